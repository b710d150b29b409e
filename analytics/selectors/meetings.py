"""The meetings of a person's sites, and the actions that are still open."""

from collections.abc import Iterable
from typing import Any

from django.db.models import Count, Q, QuerySet

from analytics.models.meetings import DecisionState, Meeting, MeetingDecision
from analytics.selectors.visible import own_decisions, visible
from registry.models.people import Person
from registry.models.sites import Site
from registry.selectors.visible import Viewer


def meetings(user: Viewer) -> "QuerySet[Any]":
    """Return the meetings that a person may see, the last first, with how many actions are open."""
    still_open = Count("decisions", filter=Q(decisions__state=DecisionState.OPEN))
    rows: QuerySet[Any] = (
        visible(user, Meeting)
        .annotate(still_open=still_open)
        .prefetch_related("sites")
        .order_by("-held_on", "-id")
    )
    return rows


def open_actions(user: Viewer) -> "QuerySet[Any]":
    """Return the open actions of the meetings that a person may see, the most urgent first."""
    return _with_links(visible(user, MeetingDecision).filter(state=DecisionState.OPEN)).order_by(
        "due_on", "id"
    )


def own_actions(user: Viewer) -> "QuerySet[Any]":
    """Return the actions that a person owns, at whatever right, the most urgent first."""
    rows: QuerySet[Any] = own_decisions(user)
    return (
        rows.select_related("meeting").prefetch_related("meeting__sites").order_by("due_on", "id")
    )


def brought_back(user: Viewer, meeting: Meeting) -> "QuerySet[Any]":
    """Return what earlier meetings of the same sites left open: it comes first at this one."""
    earlier = Q(meeting__held_on__lt=meeting.held_on) | Q(
        meeting__held_on=meeting.held_on, meeting__lt=meeting.pk
    )
    own = meeting.sites.values("pk")
    return open_actions(user).filter(earlier, meeting__sites__in=own).distinct()


def decisions_of(user: Viewer, meeting: Meeting) -> "QuerySet[Any]":
    """Return the decisions of one meeting with what became of each."""
    rows = visible(user, MeetingDecision).filter(meeting=meeting)
    return _with_links(rows).prefetch_related("steps__by", "steps__owner").order_by("id")


def last_before(user: Viewer, meeting: Meeting) -> Meeting | None:
    """Return the last meeting of any of the same sites before one."""
    rows = visible(user, Meeting).filter(sites__in=meeting.sites.values("pk"))
    earlier = Q(held_on__lt=meeting.held_on) | Q(held_on=meeting.held_on, pk__lt=meeting.pk)
    found: Meeting | None = rows.filter(earlier).distinct().first()
    return found


def owners(sites: Iterable[Site]) -> "QuerySet[Person]":
    """Return the people who can own an action: whoever holds a role at one of the sites."""
    rows = Person.objects.filter(is_active=True, memberships__site__in=list(sites))
    return rows.distinct().order_by("shown_name", "username")


def _with_links(rows: "QuerySet[Any]") -> "QuerySet[Any]":
    return rows.select_related("meeting", "owner").prefetch_related("meeting__sites")
