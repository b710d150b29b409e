"""What should exist: from the operation, the protocol, the calendar and what has happened."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from followup.rules.states import BOOKED, CLOSED_BY, DEATH, MISSED, NOT_NEEDED, PLANNED
from followup.rules.windows import StepPlan, Window, window_for

OPEN = frozenset({PLANNED, BOOKED})
# A missed review waits for a new slot until its window closes, so an ending closes it as well.
WAITING = OPEN | {MISSED}


@dataclass(frozen=True)
class Ending:
    """Why and from when a schedule is over: death, withdrawal, moved, revision or removal."""

    because: str
    on: date


@dataclass(frozen=True)
class Calendar:
    """The weekdays (0 = Monday) on which the site holds clinic, and the days on which it does not."""

    clinic_weekdays: frozenset[int] = frozenset()
    closed_days: frozenset[date] = field(default_factory=frozenset)

    def is_clinic_day(self, day: date) -> bool:
        """Whether a clinic is held; a site that named no weekday holds it from Monday to Friday."""
        weekdays = self.clinic_weekdays or frozenset(range(5))
        return day.weekday() in weekdays and day not in self.closed_days


@dataclass(frozen=True)
class ExistingReview:
    """A review as it stands."""

    step_code: str
    window: Window
    proposed_on: date
    state: str
    ended_because: str = ""


@dataclass(frozen=True)
class PlannedReview:
    """A review that ought to exist, with its window and proposed day."""

    step_code: str
    window: Window
    proposed_on: date


@dataclass(frozen=True)
class Difference:
    """What to create, to move and to reopen, and what to close with which reason, by step code."""

    create: tuple[PlannedReview, ...] = ()
    move: tuple[PlannedReview, ...] = ()
    close: Mapping[str, str] = field(default_factory=dict)
    reopen: tuple[PlannedReview, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether nothing is to be done."""
        return not (self.create or self.move or self.close or self.reopen)


def plan(
    operated_on: date,
    steps: Sequence[StepPlan],
    calendar: Calendar,
    existing: Sequence[ExistingReview],
    endings: Sequence[Ending] = (),
    today: date | None = None,
) -> Difference:
    """Compare what should exist with what does.

    What has happened (attended, lapsed, not needed) is never touched, and a missed review is not
    moved. An ending closes what waits (planned, booked, missed) and was due after it or is still open
    on its day; the earliest ending counts.
    With `today`, a review is opened again when the ending that closed it no longer stands: it was
    entered in error, or its date corrected. Where its window is over it stays closed, unless it was
    a death that closed it, which can only have been an error.
    """
    ending = min(endings, key=lambda one: one.on, default=None)
    there = {review.step_code: review for review in existing}
    create, move, reopen, close = [], [], [], {}
    for step in steps:
        wanted = _wanted(operated_on, step, calendar)
        present = there.get(step.code)
        if ending is not None and wanted.window.closes_on >= ending.on:
            if present is not None and present.state in WAITING:
                close[step.code] = ending.because
        elif present is None:
            create.append(wanted)
        elif _is_to_move(present, wanted, calendar):
            move.append(wanted)
        elif _is_to_reopen(present, wanted, today):
            reopen.append(wanted)
    return Difference(tuple(create), tuple(move), close, tuple(reopen))


def _is_to_move(present: ExistingReview, wanted: PlannedReview, calendar: Calendar) -> bool:
    if present.state not in OPEN:
        return False
    if present.window != wanted.window:
        return True
    # A day that was closed after the review was planned; a booked one is re-booked by a person.
    return (
        present.state == PLANNED
        and not calendar.is_clinic_day(present.proposed_on)
        and present.proposed_on != wanted.proposed_on
    )


def _is_to_reopen(present: ExistingReview, wanted: PlannedReview, today: date | None) -> bool:
    return (
        today is not None
        and present.state == NOT_NEEDED
        and present.ended_because in CLOSED_BY
        and (wanted.window.closes_on >= today or present.ended_because == DEATH)
    )


def propose_day(window: Window, calendar: Calendar) -> date:
    """Return the clinic day inside the window that is nearest to the due day, the earlier of two.

    Where the window holds no clinic day, the due day itself is proposed.
    """
    for distance in range((window.closes_on - window.opens_on).days + 1):
        for day in (window.due_on - timedelta(distance), window.due_on + timedelta(distance)):
            if window.opens_on <= day <= window.closes_on and calendar.is_clinic_day(day):
                return day
    return window.due_on


def _wanted(operated_on: date, step: StepPlan, calendar: Calendar) -> PlannedReview:
    window = window_for(operated_on, step)
    return PlannedReview(step.code, window, propose_day(window, calendar))
