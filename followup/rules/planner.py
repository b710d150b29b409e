"""What should exist: from the operation, the protocol, the calendar and what has happened."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from followup.rules.windows import StepPlan, Window, window_for

OPEN = frozenset({"planned", "booked"})


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
    """What to create, what to move, and what to close with which reason, by step code."""

    create: tuple[PlannedReview, ...] = ()
    move: tuple[PlannedReview, ...] = ()
    close: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_empty(self) -> bool:
        """Whether nothing is to be done."""
        return not (self.create or self.move or self.close)


def plan(
    operated_on: date,
    steps: Sequence[StepPlan],
    calendar: Calendar,
    existing: Sequence[ExistingReview],
    endings: Sequence[Ending] = (),
) -> Difference:
    """Compare what should exist with what does.

    What has happened (attended, missed, lapsed, not needed) is never touched. An ending closes the
    open reviews that were due after it, and those still open on its day; the earliest ending counts.
    """
    ending = min(endings, key=lambda one: one.on, default=None)
    there = {review.step_code: review for review in existing}
    create, move, close = [], [], {}
    for step in steps:
        wanted = _wanted(operated_on, step, calendar)
        present = there.get(step.code)
        if ending is not None and wanted.window.closes_on >= ending.on:
            if present is not None and present.state in OPEN:
                close[step.code] = ending.because
            continue
        if present is None:
            create.append(wanted)
        elif present.state in OPEN and present.window != wanted.window:
            move.append(wanted)
    return Difference(tuple(create), tuple(move), close)


def propose_day(window: Window, calendar: Calendar) -> date:
    """Return the clinic day inside the window that is nearest to the due day, the earlier of two.

    Where the window holds no clinic day, the due day itself is proposed.
    """
    span = (window.closes_on - window.opens_on).days
    days = [window.opens_on + timedelta(days=n) for n in range(span + 1)]
    held = [day for day in days if calendar.is_clinic_day(day)]
    return min(held, key=lambda day: (abs((day - window.due_on).days), day), default=window.due_on)


def _wanted(operated_on: date, step: StepPlan, calendar: Calendar) -> PlannedReview:
    window = window_for(operated_on, step)
    return PlannedReview(step.code, window, propose_day(window, calendar))
