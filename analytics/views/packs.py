import json

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from analytics.answers.horizons import HORIZONS
from analytics.forms.packs import PackForm
from analytics.models.meetings import Meeting
from analytics.models.packs import FileKind, Pack, PackState
from analytics.selectors.cohorts import (
    GROUPS,
    refuse_foreign_site,
    refuse_other_surgeon,
    rule_from,
)
from analytics.selectors.packs import kind_for
from analytics.selectors.packs import packs as visible_packs
from analytics.selectors.visible import sites_of, visible
from analytics.services import packs as service
from registry.errors import BadInput, IllegalTransition
from registry.models.sites import Site
from registry.selectors.visible import require
from registry.views.step_up import confirmed

PER_PAGE = 20
ACTION = "see_outcomes"


@require_GET
def packs(request: HttpRequest) -> HttpResponse:
    require(request.user, ACTION)
    page = Paginator(visible_packs(request.user), PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "analytics/packs.html", {"page": page, "query": ""})


@require_http_methods(["GET", "POST"])
def ask(request: HttpRequest) -> HttpResponse:
    require(request.user, ACTION)
    address = request.GET.copy()
    chosen = address.pop("meeting", [""])[0]
    sites, message = sites_of(request.user), ""
    try:
        rule = rule_from(address.dict())
        refuse_foreign_site(rule, sites)
        refuse_other_surgeon(rule, request.user, sites)
    except BadInput as fault:
        rule, message = rule_from({}), str(fault)
    form = PackForm(
        request.POST if request.method == "POST" else None,
        meetings=visible(request.user, Meeting),
        initial={"meeting": chosen if chosen.isdigit() else None},
    )
    if request.method == "POST" and not message and form.is_valid():
        meeting = form.cleaned_data["meeting"]
        try:
            made = service.ask(
                sites=_of_meeting(sites, meeting),
                address=rule.address(),
                for_outside=form.cleaned_data["for_outside"],
                meeting=meeting,
                by=request.user,
                now=timezone.now(),
            )
        except BadInput as fault:
            form.refuse(fault)
        else:
            messages.success(request, "Asked for. A worker makes it within a minute or two.")
            return redirect("pack", made.pk)
    context = {
        "form": form,
        "rule": rule,
        "by": GROUPS[rule.by],
        "horizon": HORIZONS[rule.horizon],
        "message": message,
        "sites": sites,
    }
    return render(request, "analytics/pack_ask.html", context)


def _of_meeting(sites: list[Site], meeting: Meeting | None) -> list[Site]:
    """Return the sites of a meeting; without one, all that a person may see."""
    return list(meeting.sites.all()) if meeting else sites


@require_GET
def pack(request: HttpRequest, pack_id: int) -> HttpResponse:
    row = _found(request, pack_id)
    document = None
    if row.state == PackState.READY:
        kind = kind_for(request.user, row, FileKind.DOCUMENT)
        document = json.loads(service.content_of(row, kind))
    context = {"pack": row, "document": document, "failed": row.state == PackState.FAILED}
    return render(request, "analytics/pack.html", context)


@require_GET
@confirmed
def pages(request: HttpRequest, pack_id: int) -> HttpResponse:
    return _file(request, pack_id, FileKind.PDF, "application/pdf", "pdf")


@require_GET
@confirmed
def tables(request: HttpRequest, pack_id: int) -> HttpResponse:
    return _file(request, pack_id, FileKind.TABLES, "application/zip", "zip")


@require_POST
def ask_again(request: HttpRequest, pack_id: int) -> HttpResponse:
    row = _found(request, pack_id)
    try:
        service.ask_again(pack=row, by=request.user)
    except IllegalTransition as fault:
        messages.error(request, str(fault))
    else:
        messages.success(request, "Asked for again.")
    return redirect("pack", row.pk)


def _file(
    request: HttpRequest, pack_id: int, kind: FileKind, content_type: str, ending: str
) -> HttpResponse:
    row = _found(request, pack_id)
    if row.state != PackState.READY:
        raise Http404
    content = service.content_of(row, kind_for(request.user, row, kind))
    answer = HttpResponse(content, content_type=content_type)
    name = f"pack-{row.pk}-{row.snapshot.cutoff:%Y-%m-%d}.{ending}"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def _found(request: HttpRequest, pack_id: int) -> Pack:
    require(request.user, ACTION)
    row: Pack = get_object_or_404(visible_packs(request.user), pk=pack_id)
    return row
