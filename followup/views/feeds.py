from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import http_date
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
    require_safe,
)

from followup.exchange import calendar as ical
from followup.forms.feeds import NamesForm
from followup.models import CalendarFeed, CalendarPolicy, Clinic
from followup.selectors import feeds as selector
from followup.selectors.visible import visible
from followup.services import feeds as service
from followup.services import throttling
from registry.errors import BadInput
from registry.models.sites import Site
from registry.selectors.visible import require
from registry.services import audit
from registry.views.setup import form_page
from registry.views.step_up import confirmed

PER_PAGE = 50
LONGEST_NUMBER = 18
# A program polls some times an hour; ten minutes are for one that starts anew again and again.
KNOCKS, SECONDS = 60, 600


@login_not_required
@require_safe
def feed(request: HttpRequest, secret: str) -> HttpResponse:
    """Answer whoever has the address; one that is unknown, revoked or silent is not there."""
    now = timezone.now()
    if not throttling.allow(
        key=f"calendar:{selector.hash_of(secret)}", limit=KNOCKS, seconds=SECONDS, now=now
    ):
        return _plain("Asked too often; try again later.", 429, {"Retry-After": str(SECONDS)})
    found = selector.feed_of(secret, timezone.localdate())
    if found is None:
        return _plain("There is no calendar here.", 404)
    events = selector.events_of(found, now)
    name = f"Holdfast: {found}"
    digest = ical.digest_of(name, found.site_id, events)
    changed = int(service.note_use(feed=found, digest=digest, now=now).timestamp())
    tag = f'"{digest}"'
    answer = get_conditional_response(request, etag=tag, last_modified=changed)
    if answer is None:
        named = sorted({event.named for event in events if event.named})
        if named:
            # A program that has it already is told so above, and sees nobody.
            audit.record_list(by=found.owner, keys=named, now=now, page="calendar-feed")
        body = ical.render(name, found.site_id, events)
        answer = HttpResponse(body, content_type=ical.CONTENT_TYPE)
        answer["Content-Disposition"] = 'inline; filename="holdfast.ics"'
    return _private(answer, {"ETag": tag, "Last-Modified": http_date(changed)})


def _plain(words: str, status: int, headers: dict[str, str] | None = None) -> HttpResponse:
    answer = HttpResponse(f"{words}\n", content_type="text/plain; charset=utf-8", status=status)
    return _private(answer, headers or {})


def _private(answer: HttpResponse, headers: dict[str, str]) -> HttpResponse:
    for name, value in {
        "Cache-Control": "private, no-cache",
        "X-Robots-Tag": "noindex, nofollow",
        "Referrer-Policy": "no-referrer",
        **headers,
    }.items():
        answer[name] = value
    return answer


@require_GET
def calendars(request: HttpRequest) -> HttpResponse:
    require(request.user, selector.CLINIC_NEEDS)
    lines = selector.lines_for(request.user)
    page = Paginator(lines, PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "followup/calendars.html", {"page": page, "query": ""})


@require_POST
@confirmed
def make(request: HttpRequest, site_id: int) -> HttpResponse:
    """Show a new address, this once."""
    require(request.user, selector.CLINIC_NEEDS)
    clinic_id = request.POST.get("clinic", "")
    needs = selector.CLINIC_NEEDS if clinic_id else selector.OWN_NEEDS
    site = get_object_or_404(visible(request.user, Site, selector.CLINIC_NEEDS), pk=site_id)
    require(request.user, needs, site.pk)
    clinic = _clinic(request, clinic_id) if clinic_id else None
    try:
        token = service.issue(site=site, clinic=clinic, by=request.user, now=timezone.now())
    except BadInput as fault:
        messages.error(request, " ".join(fault.faults.values()))
        return redirect("calendars")
    address = f"{settings.PUBLIC_URL}{reverse('calendar-feed', args=[token])}"
    context = {"address": address, "name": str(clinic or site), "site": site}
    context["shows_names"] = selector.shows_names(site)
    answer = render(request, "followup/calendar_address.html", context)
    answer["Cache-Control"] = "no-store"
    return answer


def _clinic(request: HttpRequest, text: str) -> Clinic:
    number = int(text) if text.isdecimal() and len(text) <= LONGEST_NUMBER else 0
    row: Clinic = get_object_or_404(visible(request.user, Clinic, selector.CLINIC_NEEDS), pk=number)
    return row


@require_POST
def revoke(request: HttpRequest, feed_id: int) -> HttpResponse:
    require(request.user, selector.CLINIC_NEEDS)
    mine = visible(request.user, CalendarFeed, selector.CLINIC_NEEDS).filter(owner=request.user)
    return _revoke(request, mine, feed_id, "calendars")


@require_GET
def setup(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    rows = selector.live_feeds(request.user)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "policies": selector.policies(request.user), "query": ""}
    return render(request, "followup/setup_calendars.html", context)


@require_POST
def setup_revoke(request: HttpRequest, feed_id: int) -> HttpResponse:
    require(request.user, "set_up")
    return _revoke(
        request, visible(request.user, CalendarFeed, "set_up"), feed_id, "setup-calendars"
    )


def _revoke(request: HttpRequest, rows: Any, feed_id: int, back: str) -> HttpResponse:
    row = get_object_or_404(rows.select_related("site", "owner", "clinic"), pk=feed_id)
    service.revoke(feed=row, by=request.user, now=timezone.now())
    messages.success(request, f"The address {row.begins}... of {row} works no more.")
    return redirect(back)


@require_http_methods(["GET", "POST"])
def names(request: HttpRequest, site_id: int) -> HttpResponse:
    require(request.user, "set_up")
    site = get_object_or_404(visible(request.user, Site, "set_up"), pk=site_id)

    def saved_now() -> dict[str, Any]:
        policy = CalendarPolicy.objects.filter(site=site).first()
        if policy is None:
            return {"shows_names": False, "version": 1}
        return {"shows_names": policy.shows_names, "version": policy.version}

    form = NamesForm(request.POST or None, initial=saved_now())

    def save() -> str:
        policy = service.allow_names(
            site=site,
            shows_names=form.cleaned_data["shows_names"],
            expected_version=form.cleaned_data["version"],
            by=request.user,
        )
        shown = "show" if policy.shows_names else "do not show"
        return f"Calendars of {site} {shown} patients' names."

    return form_page(
        request, form, f"Names in calendars: {site}", save, saved_now, "setup-calendars"
    )
