from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from registry.errors import HoldfastError
from registry.forms.hospital_messages import DOOR, AsideForm, DoorForm
from registry.models.hospital_messages import HospitalDoor, HospitalFate, HospitalMessage
from registry.models.patients import Patient
from registry.models.sites import Site
from registry.selectors import hospital_messages as selector
from registry.selectors.visible import require, site_ids, visible
from registry.services import hospital_messages as service
from registry.services.setup import save_versioned
from registry.views.patients import log_read
from registry.views.setup import form_page
from registry.views.sought import words_of

PER_PAGE = 50


@require_GET
def message_list(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_hospital_messages")
    asked = request.GET.get("show", HospitalFate.WAITING)
    show = asked if asked in selector.SHOWS else HospitalFate.WAITING
    rows = selector.messages_seen(request.user, show)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    many = selector.counts(request.user)
    context = {
        "page": page,
        "lines": selector.lines(request.user, list(page.object_list)),
        "show": show,
        "shows": [(code, words, many.get(code)) for code, words in selector.SHOWS.items()],
        "query": f"show={show}&",
    }
    return render(request, "registry/hospital.html", context)


@require_GET
def message(request: HttpRequest, hospital_message_id: int) -> HttpResponse:
    require(request.user, "see_hospital_messages")
    return _page(request, hospital_message_id, AsideForm())


def _page(request: HttpRequest, message_id: int, form: AsideForm) -> HttpResponse:
    rows = selector.messages_seen(request.user, "all")
    (line,) = selector.lines(request.user, [get_object_or_404(rows, pk=message_id)])
    said = selector.said_by(request.user, line.message)
    if line.message.patient is not None and said.rows:
        log_read(request, line.message.patient)
    settles = line.waits and line.message.site_id in site_ids(
        request.user, "settle_hospital_messages"
    )
    text = words_of(request)
    context: dict[str, Any] = {
        "line": line,
        "said": said,
        "form": form,
        "text": text,
        "may_settle": settles,
        "may_read": line.message.site_id in site_ids(request.user, "see_identity"),
        "proposals": selector.proposals(request.user, said.said, text) if settles else [],
    }
    return render(request, "registry/hospital_message.html", context)


@require_POST
def take(request: HttpRequest, hospital_message_id: int) -> HttpResponse:
    row = _to_settle(request, hospital_message_id)
    key = request.POST.get("patient", "")
    chosen = None
    if key:
        seen = visible(request.user, Patient, "see_identity").filter(at_sites__site=row.site)
        chosen = get_object_or_404(seen, key=key)
    try:
        done = service.take_again(message=row, patient=chosen, by=request.user, now=timezone.now())
    except HoldfastError as fault:
        messages.error(request, f"Nothing was changed. {fault}")
        return redirect("hospital-message", hospital_message_id=row.pk)
    said = f"{done.get_fate_display()}. {done.because}"
    if done.fate in service.UNSETTLED:
        messages.error(request, said)
        return redirect("hospital-message", hospital_message_id=row.pk)
    messages.success(request, said)
    return redirect("hospital")


@require_POST
def aside(request: HttpRequest, hospital_message_id: int) -> HttpResponse:
    row = _to_settle(request, hospital_message_id)
    form = AsideForm(request.POST)
    if not form.is_valid():
        return _page(request, row.pk, form)
    try:
        service.set_aside(
            message=row, note=form.cleaned_data["note"], by=request.user, now=timezone.now()
        )
    except HoldfastError as fault:
        messages.error(request, f"Nothing was changed. {fault}")
        return redirect("hospital-message", hospital_message_id=row.pk)
    messages.success(request, "Set aside: nothing of the message was taken over.")
    return redirect("hospital")


def _to_settle(request: HttpRequest, message_id: int) -> HospitalMessage:
    require(request.user, "settle_hospital_messages")
    rows = visible(request.user, HospitalMessage, "settle_hospital_messages")
    row: HospitalMessage = get_object_or_404(rows.select_related("site"), pk=message_id)
    return row


@require_GET
def doors(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    rows = visible(request.user, Site, "set_up").select_related("hospital_door")
    lines = [(site, getattr(site, "hospital_door", None)) for site in rows]
    return render(request, "registry/setup_hospital.html", {"lines": lines})


@require_http_methods(["GET", "POST"])
def door(request: HttpRequest, site_id: int) -> HttpResponse:
    require(request.user, "set_up")
    site = get_object_or_404(visible(request.user, Site, "set_up"), pk=site_id)
    row = HospitalDoor.objects.filter(site=site).first() or HospitalDoor(site=site)
    form = DoorForm(request.POST or None, initial=_now(row))

    def save() -> str:
        save_versioned(
            row,
            {name: form.cleaned_data[name] for name in DOOR},
            expected_version=form.cleaned_data["version"],
            by=request.user,
        )
        return f"Saved for {site}."

    def saved_now() -> dict[str, Any]:
        return _now(HospitalDoor.objects.get(pk=row.pk))

    return form_page(
        request, form, f"The hospital's system of {site}", save, saved_now, "setup-hospital"
    )


def _now(row: HospitalDoor) -> dict[str, Any]:
    return {name: getattr(row, name) for name in (*DOOR, "version")}
