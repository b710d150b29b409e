from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from followup.forms.replies import SeenForm
from followup.models.replies import Reply
from followup.selectors import replies as selector
from followup.selectors.visible import visible
from followup.services import replies as service
from registry.errors import HoldfastError
from registry.selectors.visible import require, site_ids

PER_PAGE = 50


@require_GET
def reply_list(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_messages")
    asked = request.GET.get("show", "waiting")
    show = asked if asked in selector.SHOWS else "waiting"
    rows = selector.replies_seen(request.user, show)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "lines": selector.lines(request.user, list(page.object_list)),
        "show": show,
        "shows": selector.SHOWS,
        "query": f"show={show}&",
    }
    return render(request, "followup/replies.html", context)


@require_GET
def reply(request: HttpRequest, reply_id: int) -> HttpResponse:
    require(request.user, "see_messages")
    rows = selector.replies_seen(request.user, "all")
    (line,) = selector.lines(request.user, [get_object_or_404(rows, pk=reply_id)])
    settles = line.reply.site_id in site_ids(request.user, "settle_messages")
    context = {"line": line, "form": SeenForm(), "may_settle": line.waits and settles}
    return render(request, "followup/reply.html", context)


@require_POST
def seen(request: HttpRequest, reply_id: int) -> HttpResponse:
    require(request.user, "settle_messages")
    row = get_object_or_404(visible(request.user, Reply, "settle_messages"), pk=reply_id)
    form = SeenForm(request.POST)
    note = form.cleaned_data["note"] if form.is_valid() else ""
    try:
        service.see_to(reply=row, note=note, by=request.user, now=timezone.now())
    except HoldfastError as fault:
        messages.error(request, f"Nothing was changed. {fault}")
        return redirect("reply", reply_id=row.pk)
    messages.success(request, "Noted: the answer was seen to.")
    return redirect("replies")
