"""What should exist: from the operation, the protocol, the calendar and what has happened."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from followup.rules.states import (
    BOOKED,
    CLOSED_BY,
    LAPSED,
    MISSED,
    NOT_NEEDED,
    PLANNED,
    PROTOCOL,
    RETURNS,
)
from followup.rules.windows import StepPlan, Window, window_for

# A missed review waits for a new slot until its window closes, so an ending closes it as well.
WAITING = frozenset({PLANNED, BOOKED, MISSED})
CREATE, MOVE, CLOSE, REOPEN = "create", "move", "close", "reopen"


@dataclass(frozen=True)
class Ending:
    """Why and from when a schedule is over: death, withdrawal, moved or revision."""

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
    """A review as it stands.

    `day_chosen`: a person moved its proposed day. `follows`: its step is of the version that is
    planned by; what happened under another version keeps the step under which it happened.
    """

    step_code: str
    window: Window
    proposed_on: date
    state: str
    ended_because: str = ""
    day_chosen: bool = False
    follows: bool = True


@dataclass(frozen=True)
class PlannedReview:
    """A review that ought to exist, with its window and proposed day."""

    step_code: str
    window: Window
    proposed_on: date


@dataclass(frozen=True)
class Difference:
    """What to create, to move and to reopen, and what to close with which reason, by step code.

    What is closed may be moved first: a closed review keeps the window of the day that is known now.
    """

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

    What has happened (attended, or decided in clinic as not needed) is never touched. The rest
    follows from the facts alone, in whatever order they became known:

    - Windows follow the operation date, also those of missed and closed reviews.
    - The earliest ending closes what waits and was due after it or is still open on its day. A review
      that lapsed before the ending was known is closed by it as well.
    - A review whose step the protocol no longer has is closed by that, unless an ending closes it.
    - With `today`, a review is opened again when what closed it does not stand, or no longer reaches
      it. After a return (or a change of protocol) only windows that are still open come back.
    - With `today`, a lapsed review waits again when its window turns out to be another one.
    - A proposed day is the clinic day nearest to the due day, unless a person chose another one that
      can stand.
    """
    ending = min(endings, key=_first, default=None)
    there = {review.step_code: review for review in existing}
    done: dict[str, list[PlannedReview]] = {CREATE: [], MOVE: [], REOPEN: []}
    close = {}
    for step in steps:
        wanted = _wanted(operated_on, step, calendar)
        present = there.pop(step.code, None)
        if ending is not None and wanted.window.closes_on >= ending.on:
            acts = _acts_when_over(present, wanted, ending)
            if CLOSE in acts:
                close[step.code] = ending.because
        else:
            acts = _acts_when_wanted(present, wanted, calendar, endings, today)
        for act in acts & done.keys():
            done[act].append(wanted)
    for present in there.values():
        because = _gone_because(present, ending)
        if present.state != LAPSED and _is_to_close(present, because):
            close[present.step_code] = because
    return Difference(tuple(done[CREATE]), tuple(done[MOVE]), close, tuple(done[REOPEN]))


def _acts_when_over(
    present: ExistingReview | None, wanted: PlannedReview, ending: Ending
) -> frozenset[str]:
    """Say what to do about a step that an ending reaches."""
    if present is None:
        return frozenset()
    is_to_close = _is_to_close(present, ending.because)
    is_to_move = (is_to_close or _is_closed(present)) and _is_elsewhere(present, wanted)
    return frozenset(act for act, do in ((CLOSE, is_to_close), (MOVE, is_to_move)) if do)


def _acts_when_wanted(
    present: ExistingReview | None,
    wanted: PlannedReview,
    calendar: Calendar,
    endings: Sequence[Ending],
    today: date | None,
) -> frozenset[str]:
    """Say what to do about a step that no ending reaches."""
    if present is None:
        return frozenset({CREATE})
    if _is_to_reopen(present, wanted, endings, today):
        return frozenset({REOPEN})
    return frozenset({MOVE}) if _is_to_move(present, wanted, calendar) else frozenset()


def _gone_because(present: ExistingReview, ending: Ending | None) -> str:
    """Say what closes a review whose step the protocol no longer has."""
    if ending is not None and present.window.closes_on >= ending.on:
        return ending.because
    return PROTOCOL


def _first(ending: Ending) -> tuple[date, int]:
    """Order endings by their day; of one day, death comes before what it makes needless."""
    return ending.on, CLOSED_BY.index(ending.because)


def _is_closed(present: ExistingReview) -> bool:
    return present.state == NOT_NEEDED and present.ended_because in CLOSED_BY


def _is_to_close(present: ExistingReview, because: str) -> bool:
    if _is_closed(present):
        return present.ended_because != because
    return present.state in WAITING or (present.state == LAPSED and present.follows)


def _is_elsewhere(present: ExistingReview, wanted: PlannedReview) -> bool:
    return present.window != wanted.window or not present.follows


def _is_to_move(present: ExistingReview, wanted: PlannedReview, calendar: Calendar) -> bool:
    if present.state not in WAITING and not _is_closed(present):
        return False
    if _is_elsewhere(present, wanted):
        return True
    # A booked slot is re-booked by a person.
    if present.state != PLANNED or present.proposed_on == wanted.proposed_on:
        return False
    return not (present.day_chosen and calendar.is_clinic_day(present.proposed_on))


def _is_to_reopen(
    present: ExistingReview,
    wanted: PlannedReview,
    endings: Sequence[Ending],
    today: date | None,
) -> bool:
    if today is None:
        return False
    if present.state == LAPSED:
        return present.follows and present.window != wanted.window
    if not _is_closed(present):
        return False
    stands = any(one.because == present.ended_because for one in endings)
    is_undone = stands or present.ended_because not in RETURNS
    return is_undone or wanted.window.closes_on >= today


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
