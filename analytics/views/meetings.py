from typing import Any
from urllib.parse import parse_qsl, urlsplit

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from analytics.forms.meetings import (
    MEETING,
    CorrectMeetingForm,
    DecisionForm,
    FollowUpForm,
    MeetingForm,
)
from analytics.models.meetings import DecisionState, Meeting, MeetingDecision
from analytics.rules import figure_addresses
from analytics.selectors import meetings as selector
from analytics.selectors.findings import Figures, Finding, finding, since
from analytics.selectors.packs import packs
from analytics.selectors.visible import sites_of, visible
from analytics.services import meetings as service
from analytics.services import snapshots
from registry.errors import BadInput
from registry.selectors.visible import may, require
from registry.views.conflicts import try_to_save

PER_PAGE = 20
ACTION, OWN = "keep_meetings", "see_own_actions"


@require_GET
def meetings(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_outcomes")
    page = Paginator(selector.meetings(request.user), PER_PAGE).get_page(request.GET.get("page"))
    waiting = Paginator(selector.open_actions(request.user), PER_PAGE)
    waiting_page = _with_findings(waiting.get_page(request.GET.get("open")))
    return render(
        request,
        "analytics/meetings.html",
        {
            "page": page,
            "waiting": waiting_page,
            "today": timezone.localdate(),
            "may_keep": may(request.user, ACTION),
            "query": "",
        },
    )


@require_GET
def meeting(request: HttpRequest, meeting_id: int) -> HttpResponse:
    require(request.user, "see_outcomes")
    row = get_object_or_404(selector.meetings(request.user), pk=meeting_id)
    back = Paginator(selector.brought_back(request.user, row), PER_PAGE)
    return render(
        request,
        "analytics/meeting.html",
        {
            "meeting": row,
            "waiting": _with_findings(back.get_page(request.GET.get("open"))),
            "packs": packs(request.user).filter(meeting=row)[:PER_PAGE],
            "decisions": since(selector.decisions_of(request.user, row), _newest),
            "today": timezone.localdate(),
            "may_keep": visible(request.user, Meeting, ACTION).filter(pk=row.pk).exists(),
        },
    )


@require_http_methods(["GET", "POST"])
def add(request: HttpRequest) -> HttpResponse:
    require(request.user, ACTION)
    sites = sites_of(request.user, ACTION)
    form = MeetingForm(request.POST or None, sites=sites, initial={"held_on": timezone.localdate()})
    made: list[Meeting] = []

    def save() -> str:
        row = service.record_meeting(
            **{name: form.cleaned_data[name] for name in (*MEETING, "sites")},
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        made.append(row)
        return f"Recorded: {row}. Now add what it decided."

    return _page(request, form, "Record a meeting", save, dict, lambda: ("meeting", made[0].pk))


@require_http_methods(["GET", "POST"])
def correct(request: HttpRequest, meeting_id: int) -> HttpResponse:
    row = _kept(request, meeting_id)
    form = CorrectMeetingForm(request.POST or None, initial=_now(row))

    def save() -> str:
        service.correct_meeting(
            meeting=row,
            values=form.cleaned_data,
            expected_version=form.cleaned_data["version"],
            by=request.user,
            today=timezone.localdate(),
        )
        return f"Corrected: {row}."

    def saved_now() -> dict[str, Any]:
        return _now(Meeting.objects.get(pk=row.pk))

    return _page(request, form, f"Correct: {row}", save, saved_now, lambda: ("meeting", row.pk))


@require_http_methods(["GET", "POST"])
def decide(request: HttpRequest, meeting_id: int) -> HttpResponse:
    row = _kept(request, meeting_id)
    form = DecisionForm(
        request.POST or None,
        owners=selector.owners(row.sites.all()),
        initial={"figure": request.GET.get("figure", "")},
    )

    def save() -> str:
        service.decide(
            meeting=row,
            **form.cleaned_data,
            by=request.user,
            today=timezone.localdate(),
            finding=_finding(row, form.cleaned_data["figure"]),
        )
        return "Written down."

    heading = f"What did the meeting of {row.held_on:%d %b %Y} decide?"
    return _page(request, form, heading, save, dict, lambda: ("meeting", row.pk))


@require_http_methods(["GET", "POST"])
def follow_up(request: HttpRequest, decision_id: int) -> HttpResponse:
    require(request.user, ACTION)
    rows = visible(request.user, MeetingDecision, ACTION).select_related("meeting")
    decision = get_object_or_404(rows, pk=decision_id)
    if decision.state == DecisionState.STANDS:
        raise Http404
    form = FollowUpForm(
        request.POST or None,
        owners=selector.owners(decision.meeting.sites.all()),
        is_open=decision.state == DecisionState.OPEN,
        initial=_standing(decision),
    )

    def save() -> str:
        given = dict(form.cleaned_data)
        service.follow_up(
            decision=decision,
            expected_version=given.pop("version"),
            **given,
            by=request.user,
            today=timezone.localdate(),
        )
        return "Written down what became of it."

    def saved_now() -> dict[str, Any]:
        return _standing(MeetingDecision.objects.get(pk=decision.pk))

    heading = f"What became of it? {decision.words}"
    where = decision.meeting_id
    return _page(request, form, heading, save, saved_now, lambda: ("meeting", where))


@require_GET
def own(request: HttpRequest) -> HttpResponse:
    """Show whoever asks the actions that are theirs, whether or not they may see the figures."""
    require(request.user, OWN)
    rows = selector.own_actions(request.user)
    waiting = Paginator(rows.filter(state=DecisionState.OPEN), PER_PAGE)
    page = waiting.get_page(request.GET.get("page"))
    held = [one.meeting_id for one in page.object_list]
    seen = visible(request.user, Meeting).filter(pk__in=held)
    return render(
        request,
        "analytics/meetings_own.html",
        {
            "page": page,
            "settled": rows.exclude(state=DecisionState.OPEN).order_by("-due_on", "-id")[:PER_PAGE],
            "today": timezone.localdate(),
            "opens": set(seen.values_list("pk", flat=True)),
            "query": "",
        },
    )


def _newest() -> Figures:
    snapshot = snapshots.current(now=timezone.now(), today=timezone.localdate())
    return Figures(snapshot, lambda: snapshots.frames_of(snapshot))


def _with_findings(page: Any) -> Any:
    page.object_list = since(page.object_list, _newest)
    return page


def _finding(meeting: Meeting, address: str) -> Finding | None:
    """Return what a figure says from the snapshot that its address names, or else from the newest."""
    if not figure_addresses.is_figure(address):
        return None
    named = dict(parse_qsl(urlsplit(address).query)).get("snapshot", "")
    try:
        snapshot = snapshots.named(named) if named else _newest().snapshot
    except BadInput:
        return None
    figures = Figures(snapshot, lambda: snapshots.frames_of(snapshot))
    return finding(figure_addresses.shortened(address), list(meeting.sites.all()), figures)


def _page(
    request: HttpRequest, form: Any, heading: str, save: Any, saved_now: Any, then: Any
) -> HttpResponse:
    conflict = None
    if request.method == "POST" and form.is_valid():
        done, conflict = try_to_save(request, form, save, saved_now)
        if done:
            return redirect(*then())
    context = {"form": form, "heading": heading, "conflict": conflict}
    status = 409 if conflict else 200
    return render(request, "analytics/meeting_form.html", context, status=status)


def _kept(request: HttpRequest, meeting_id: int) -> Meeting:
    require(request.user, ACTION)
    row: Meeting = get_object_or_404(visible(request.user, Meeting, ACTION), pk=meeting_id)
    return row


def _now(row: Meeting) -> dict[str, Any]:
    return {"version": row.version, **{name: getattr(row, name) for name in MEETING}}


def _standing(row: MeetingDecision) -> dict[str, Any]:
    return {"version": row.version}
