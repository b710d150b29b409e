from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from followup.services import throttling
from registry.errors import BadInput, HoldfastError
from registry.forms.emergencies import FindingForm, OpenForm
from registry.selectors import emergencies as selector
from registry.selectors.patients import named_exactly
from registry.selectors.visible import require, site_ids
from registry.services import emergencies as service

PER_PAGE = 50
# Nobody mistypes more often in an hour; whoever tries numbers does.
TRIES, STRETCH = 10, 3600
NOBODY = "There is nobody with this key, or with this number and birth date."
TOO_OFTEN = "Too many tries. Ring the patient's hospital, or try again in an hour."


@require_http_methods(["GET", "POST"])
def open_patient(request: HttpRequest) -> HttpResponse:
    require(request.user, "open_in_emergency")
    now = timezone.now()
    form = OpenForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        calm = throttling.allow(
            key=f"emergency:{request.user.pk}", limit=TRIES, seconds=STRETCH, now=now
        )
        found = calm and named_exactly(key=given["key"], number=given["number"], born=given["born"])
        if not found:
            form.add_error(None, NOBODY if calm else TOO_OFTEN)
        else:
            try:
                opened = service.open_patient(
                    patient=found,
                    reason=given["reason"],
                    by=request.user,
                    now=now,
                    today=timezone.localdate(),
                )
            except BadInput as fault:
                form.refuse(fault)
            else:
                until = timezone.localtime(opened[0].ends_at)
                messages.success(request, f"Open for reading until {until:%H:%M}.")
                return redirect("patient", key=found.key)
    mine = selector.own_accesses(request.user).filter(ends_at__gt=now)
    context = {"form": form, "open": list(mine)}
    return render(request, "followup/emergency_open.html", context)


@require_POST
def end(request: HttpRequest, emergency_id: int) -> HttpResponse:
    require(request.user, "open_in_emergency")
    access = get_object_or_404(selector.own_accesses(request.user), pk=emergency_id)
    service.end(access=access, by=request.user, now=timezone.now())
    messages.success(request, "Closed.")
    return redirect("emergency-open")


@require_GET
def accesses(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_emergencies")
    rows = selector.accesses_at(site_ids(request.user, "see_emergencies"))
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "query": "", "today": timezone.localdate()}
    return render(request, "followup/emergencies.html", context)


@require_http_methods(["GET", "POST"])
def access(request: HttpRequest, emergency_id: int) -> HttpResponse:
    require(request.user, "see_emergencies")
    rows = selector.accesses_at(site_ids(request.user, "see_emergencies"))
    row = get_object_or_404(rows, pk=emergency_id)
    form = FindingForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            service.record_finding(
                access=row,
                finding=form.cleaned_data["finding"],
                by=request.user,
                now=timezone.now(),
            )
        except BadInput as fault:
            form.refuse(fault)
        except HoldfastError as fault:
            form.add_error(None, str(fault))
        else:
            messages.success(request, "Recorded.")
            return redirect("emergencies")
    page = Paginator(selector.pages_of(row), PER_PAGE).get_page(request.GET.get("page"))
    opened = [(entry.at, entry.reason.partition(": ")[2]) for entry in page.object_list]
    context = {"access": row, "form": form, "page": page, "opened": opened, "query": ""}
    return render(request, "followup/emergency.html", context)
