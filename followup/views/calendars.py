from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from followup.forms.calendars import CLINIC, ClinicForm, CloseDayForm, HolidaysForm
from followup.models import Clinic, ClosedDay
from followup.selectors import calendars as selector
from followup.selectors.visible import visible
from followup.services import calendars as service
from registry.models.sites import Site
from registry.selectors.people import surgeons_at
from registry.selectors.visible import require
from registry.views.setup import form_page


@require_GET
def clinics(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    sites = selector.site_days(request.user, timezone.localdate())
    return render(request, "followup/setup_clinics.html", {"sites": sites})


@require_http_methods(["GET", "POST"])
def clinic_add(request: HttpRequest, site_id: int) -> HttpResponse:
    site = _site(request, site_id)
    return _clinic_page(request, Clinic(site=site), f"Add a clinic at {site}", "Added")


@require_http_methods(["GET", "POST"])
def clinic(request: HttpRequest, clinic_id: int) -> HttpResponse:
    require(request.user, "set_up")
    rows = visible(request.user, Clinic, "set_up").select_related("site", "surgeon")
    row = get_object_or_404(rows, pk=clinic_id)
    return _clinic_page(request, row, f"Clinic: {row}, {row.site}", "Saved")


def _clinic_page(request: HttpRequest, row: Clinic, heading: str, done: str) -> HttpResponse:
    surgeons = surgeons_at(row.site)
    initial = _now(row) if row.pk else None
    form = ClinicForm(request.POST or None, initial=initial, surgeons=surgeons)

    def save() -> str:
        service.save_clinic(
            clinic=row,
            values={name: form.cleaned_data[name] for name in CLINIC},
            expected_version=form.cleaned_data["version"],
            by=request.user,
        )
        return f"{done}: {row}. Planned reviews follow it in the night; booked slots stay."

    def saved_now() -> dict[str, Any]:
        return _now(Clinic.objects.select_related("surgeon").get(pk=row.pk))

    return form_page(request, form, heading, save, saved_now, "setup-clinics")


def _now(row: Clinic) -> dict[str, Any]:
    return {name: getattr(row, name) for name in (*CLINIC, "version")}


@require_http_methods(["GET", "POST"])
def close_day(request: HttpRequest, site_id: int) -> HttpResponse:
    site = _site(request, site_id)
    form = CloseDayForm(request.POST or None)

    def save() -> str:
        done = service.close_day(
            site=site,
            **form.cleaned_data,
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return f"{site} is closed on {form.cleaned_data['on']:%d %b %Y}. {_consequence(done)}"

    return form_page(request, form, f"Close a day at {site}", save, dict, "setup-clinics")


@require_http_methods(["GET", "POST"])
def close_holidays(request: HttpRequest, site_id: int) -> HttpResponse:
    site = _site(request, site_id)
    today = timezone.localdate()
    form = HolidaysForm(request.POST or None, initial={"year": today.year})

    def save() -> str:
        done = service.close_holidays(
            site=site, **form.cleaned_data, by=request.user, now=timezone.now(), today=today
        )
        return f"{done.days} public holidays added for {site}. {_consequence(done)}"

    heading = f"Close {site} on the public holidays of a year"
    return form_page(request, form, heading, save, dict, "setup-clinics")


@require_POST
def open_day(request: HttpRequest, day_id: int) -> HttpResponse:
    require(request.user, "set_up")
    rows = visible(request.user, ClosedDay, "set_up").select_related("site")
    day = get_object_or_404(rows, pk=day_id)
    words = f"{day.site} holds clinic on {day.on:%d %b %Y}"
    if day.is_public_holiday:
        words += f", though it is a public holiday ({day.reason})"
    moved = service.open_day(
        day=day, by=request.user, now=timezone.now(), today=timezone.localdate()
    )
    words += f". Proposed days moved: {moved}."
    messages.success(request, words)
    return redirect("setup-clinics")


def _site(request: HttpRequest, site_id: int) -> Site:
    require(request.user, "set_up")
    site: Site = get_object_or_404(visible(request.user, Site, "set_up"), pk=site_id)
    return site


def _consequence(done: service.Closed) -> str:
    moved = f"Proposed days moved: {done.moved}."
    if not done.booked:
        return moved
    return f"{moved} Slots booked there all the same: {done.booked}; a coordinator re-books them."
