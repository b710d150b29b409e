"""What the last meeting decided and what became of it, for the first pages of a pack."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from analytics.figures.section_actions import ActionLine, section
from analytics.figures.sections import Section
from analytics.models.meetings import DecisionState, Meeting
from analytics.selectors import meetings
from analytics.selectors.visible import visible
from registry.models.sites import Site
from registry.selectors.visible import Viewer

# As many as can be gone through at a meeting; the page of meetings has them all.
MOST = 60


def actions(user: Viewer, sites: Sequence[Site], meeting: Meeting | None, today: date) -> Section:
    """Return the section of a pack for a meeting, or for the meeting that comes next."""
    if meeting is None:
        rows = visible(user, Meeting).filter(sites__in=sites).distinct()
        last: Meeting | None = rows.first()
    else:
        last = meetings.last_before(user, meeting)
    if last is None:
        return section((), None, today)
    own = list(meetings.decisions_of(user, last)[:MOST])
    earlier = meetings.brought_back(user, last).prefetch_related("steps__by", "steps__owner")
    return section([_line(one) for one in (*own, *earlier[:MOST])], last.held_on, today)


def _line(one: Any) -> ActionLine:
    steps = list(one.steps.all())
    said = f": {steps[-1].words}" if steps and steps[-1].words else ""
    return ActionLine(
        words=one.words,
        owner=str(one.owner or ""),
        due_on=one.due_on,
        decided_on=one.meeting.held_on,
        became=f"{one.get_state_display()}{said}",
        is_open=one.state == DecisionState.OPEN,
    )
