from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from followup.forms.load import MoveForm
from followup.models import LoadProposal, Review
from followup.rules import attendance
from followup.rules.clinic_weeks import (
    WEEKS_LEVELLED,
    WEEKS_SHOWN,
    in_words,
    last_day,
    monday_of,
    week_name,
)
from followup.rules.load_figure import draw
from followup.selectors import load as selector
from followup.selectors.clinic_room import room_of
from followup.selectors.visible import visible
from followup.services import load as service
from registry.errors import BadInput, HoldfastError
from registry.models.sites import Site
from registry.selectors.visible import require, site_ids

PER_PAGE = 50
CLINICS_PER_PAGE = 20
LONGEST_NUMBER = 18


@require_GET
def load(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_due")
    sites = list(visible(request.user, Site, "see_due"))
    site = _chosen(sites, _number(request, "site"))
    today = timezone.localdate()
    found = selector.site_load(site, today)
    wanted = None if request.GET.get("clinic") == "all" else found.of(_number(request, "clinic"))
    weeks = wanted.weeks if wanted else found.total
    return render(
        request,
        "followup/load.html",
        {
            "sites": sites,
            "site": site,
            "load": found,
            "page": Paginator(found.clinics, CLINICS_PER_PAGE).get_page(request.GET.get("page")),
            "query": f"site={site.pk}&",
            "shown": selector.shown_weeks(found, wanted),
            "figure": draw(weeks, found.past.absence),
            "clinic": wanted.clinic if wanted else None,
            "words": in_words(str(wanted.clinic) if wanted else str(site), weeks),
            "past_words": attendance.in_words(found.past.absence),
            "proposal": selector.open_proposal(site),
            "may_level": site.pk in site_ids(request.user, "book"),
            "weeks_levelled": WEEKS_LEVELLED,
        },
    )


@require_GET
def week(request: HttpRequest, site_id: int, monday: str) -> HttpResponse:
    require(request.user, "see_due")
    site = get_object_or_404(visible(request.user, Site, "see_due"), pk=site_id)
    today = timezone.localdate()
    first = _monday(monday, today)
    room = room_of(site.pk, today, last_day(today, WEEKS_SHOWN))
    rows = selector.waiting_in(request.user, site, first, room)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "followup/load_week.html",
        {
            "site": site,
            "monday": first,
            "sunday": first + timedelta(days=6),
            "week_name": week_name(first),
            "days": selector.days_of(room, first),
            "page": page,
            "lines": selector.move_lines(list(page.object_list), room),
            "query": "",
            "may_move": site.pk in site_ids(request.user, "book"),
        },
    )


@require_http_methods(["GET", "POST"])
def move(request: HttpRequest, review_id: int) -> HttpResponse:
    require(request.user, "book")
    rows = visible(request.user, Review, "book").select_related(
        "step", "site", "procedure__injury__patient__identity"
    )
    # An erased patient cannot be acted for: nothing is left that says who it was.
    review: Review = get_object_or_404(
        rows, pk=review_id, procedure__injury__patient__identity__isnull=False
    )
    today = timezone.localdate()
    room = room_of(review.site_id, today, max(today, min(review.closes_on, _horizon(today))))
    (line,) = selector.move_lines([review], room)
    form = MoveForm(request.POST or None, options=line.options)
    was = review.proposed_on
    if request.method == "POST" and form.is_valid():
        try:
            service.move_review(
                review=review,
                to_on=form.cleaned_data["to_on"],
                expected_version=form.version,
                by=request.user,
                now=timezone.now(),
                today=today,
            )
        except HoldfastError as fault:
            review.refresh_from_db()
            _refuse(form, fault)
        else:
            messages.success(
                request,
                f"{line.name}, {review.step}: moved from {was:%a %d %b} "
                f"to {review.proposed_on:%a %d %b %Y}.",
            )
            return redirect("load-week", review.site_id, monday_of(max(was, today)).isoformat())
    context = {"form": form, "review": review, "line": line}
    return render(request, "followup/load_move.html", context)


def _refuse(form: MoveForm, fault: HoldfastError) -> None:
    if isinstance(fault, BadInput):
        form.refuse(fault)
    else:
        form.add_error(None, str(fault))


@require_POST
def level(request: HttpRequest, site_id: int) -> HttpResponse:
    require(request.user, "book")
    site = get_object_or_404(visible(request.user, Site, "book"), pk=site_id)
    try:
        proposal = service.propose(
            site=site, by=request.user, now=timezone.now(), today=timezone.localdate()
        )
    except BadInput as fault:
        messages.error(request, str(fault))
        return redirect("load")
    return redirect("load-proposal", proposal.pk)


@require_GET
def proposal(request: HttpRequest, proposal_id: int) -> HttpResponse:
    require(request.user, "see_due")
    row = get_object_or_404(_proposals(request, "see_due"), pk=proposal_id)
    page = Paginator(selector.lines_of(row), PER_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "followup/load_proposal.html",
        {
            "proposal": row,
            "expired": service.expired_because(row, timezone.localdate()),
            "summary": selector.summary_of(row),
            "moves": selector.moves_anybody(row),
            "days": selector.proposal_days(row),
            "shortages": selector.proposal_shortages(row),
            "page": page,
            "lines": [(line, selector.name_of(line.review)) for line in page.object_list],
            "query": "",
            "may_decide": row.site_id in site_ids(request.user, "book"),
        },
    )


@require_POST
def apply(request: HttpRequest, proposal_id: int) -> HttpResponse:
    row = _to_decide(request, proposal_id)
    try:
        done = service.apply(
            proposal=row,
            expected_version=_version(request),
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
    except HoldfastError as fault:
        messages.error(request, str(fault))
    else:
        messages.success(request, f"Applied: {done.moved} moved.")
        if done.left_alone:
            messages.warning(
                request, f"{len(done.left_alone)} left alone; the list below says which and why."
            )
    return redirect("load-proposal", row.pk)


@require_POST
def discard(request: HttpRequest, proposal_id: int) -> HttpResponse:
    row = _to_decide(request, proposal_id)
    try:
        service.discard(
            proposal=row,
            expected_version=_version(request),
            by=request.user,
            now=timezone.now(),
        )
    except HoldfastError as fault:
        messages.error(request, str(fault))
        return redirect("load-proposal", row.pk)
    messages.success(request, f"Discarded: {row}. Nothing moved.")
    return redirect("load")


def _to_decide(request: HttpRequest, proposal_id: int) -> LoadProposal:
    require(request.user, "book")
    row: LoadProposal = get_object_or_404(_proposals(request, "book"), pk=proposal_id)
    return row


def _proposals(request: HttpRequest, action: str) -> "QuerySet[Any]":
    rows = visible(request.user, LoadProposal, action)
    return rows.select_related("site", "made_by", "decided_by")


def _version(request: HttpRequest) -> int:
    text = request.POST.get("version", "")
    return int(text) if text.isdecimal() and len(text) < 10 else 0


def _chosen(sites: list[Site], wanted: int | None) -> Site:
    """Return the site that was asked for, or the first; another's is not there."""
    if wanted is None:
        return sites[0]
    site = next((one for one in sites if one.pk == wanted), None)
    if site is None:
        raise Http404
    return site


def _number(request: HttpRequest, name: str) -> int | None:
    text = request.GET.get(name, "")
    return int(text) if text.isdecimal() and len(text) <= LONGEST_NUMBER else None


def _monday(text: str, today: date) -> date:
    """Return the Monday of the week that is asked for, if it is one of those that are shown."""
    try:
        first = monday_of(date.fromisoformat(text))
    except (ValueError, OverflowError) as fault:
        raise Http404 from fault
    if not monday_of(today) <= first <= _horizon(today):
        raise Http404
    return first


def _horizon(today: date) -> date:
    return last_day(today, WEEKS_SHOWN)
