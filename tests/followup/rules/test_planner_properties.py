"""Whatever the facts, and in whatever order they become known, the planner gives the same end."""

import calendar as months
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import holidays
import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.planner import (
    Calendar,
    Difference,
    Ending,
    ExistingReview,
    PlannedReview,
    plan,
)
from followup.rules.states import CLOSED_BY
from followup.rules.windows import StepPlan, Window, window_for

STEPS = (
    StepPlan("2w", 2, "weeks", 4, 7),
    StepPlan("6w", 6, "weeks", 14, 14),
    StepPlan("3m", 3, "months", 21, 21),
    StepPlan("12m", 12, "months", 60, 90),
)
# The protocol had this one when the operation was planned, and no longer has it.
GONE = StepPlan("9m", 9, "months", 14, 14)
HOLIDAYS = [
    frozenset(holidays.country_holidays("GB", subdiv=subdivision, years=range(2023, 2029)))
    for subdivision in ("ENG", "SCT")
]
WAITING = ("planned", "booked", "missed")
DECIDED = ("attended", "not_needed")
OPERATIONS = st.dates(date(2024, 1, 1), date(2025, 6, 30))
LATER = st.dates(date(2024, 1, 1), date(2027, 6, 30))
TODAYS = st.dates(date(2024, 6, 1), date(2027, 6, 30))
CALENDARS = st.builds(Calendar, st.frozensets(st.integers(0, 6)), st.frozensets(LATER, max_size=30))
# What can be undone; whoever withdrew or moved away and is back was away, which is no correction.
UNDOABLE = ("death", "revision", "removal")


@dataclass(frozen=True)
class Facts:
    """All that the planner is told of one operation; endings by their reason."""

    operated_on: date
    calendar: Calendar
    endings: tuple[tuple[str, date], ...]

    def with_ending(self, because: str, on: date | None) -> "Facts":
        """Return the facts with an ending set or taken away."""
        rest = tuple(one for one in self.endings if one[0] != because)
        return replace(self, endings=rest if on is None else (*rest, (because, on)))


Rows = tuple[ExistingReview, ...]
FACTS = st.builds(
    Facts,
    OPERATIONS,
    CALENDARS,
    st.dictionaries(st.sampled_from(CLOSED_BY[:5]), LATER, max_size=2).map(
        lambda one: tuple(one.items())
    ),
)
STATES = st.tuples(*(st.sampled_from([*WAITING, *DECIDED, "lapsed"]) for _ in (*STEPS, GONE)))


def planned(facts: Facts, rows: Rows, today: date) -> Rows:
    """Return what stands after planning by the facts."""
    return carried_out(rows, difference(facts, rows, today))


def difference(facts: Facts, rows: Rows, today: date) -> Difference:
    """Return what planning by the facts would change."""
    endings = [Ending(because, on) for because, on in facts.endings]
    return plan(facts.operated_on, STEPS, facts.calendar, rows, endings, today)


def carried_out(rows: Sequence[ExistingReview], change: Difference) -> Rows:
    """Carry a difference out, as the service does."""
    there = {one.step_code: one for one in rows}
    for new in change.create:
        there[new.step_code] = as_planned(new)
    for moved in change.move:
        before = there[moved.step_code]
        there[moved.step_code] = replace(
            as_planned(moved), state=before.state, ended_because=before.ended_because
        )
    for again in change.reopen:
        there[again.step_code] = as_planned(again)
    for code, because in change.close.items():
        there[code] = replace(there[code], state="not_needed", ended_because=because)
    return tuple(sorted(there.values(), key=lambda one: one.step_code))


def as_planned(one: PlannedReview) -> ExistingReview:
    return ExistingReview(one.step_code, one.window, one.proposed_on, "planned")


def standing(facts: Facts, states: Sequence[str]) -> Rows:
    """Return the reviews as they were first planned, and then came to stand in these states."""
    first = plan(facts.operated_on, (*STEPS, GONE), facts.calendar, ()).create
    return tuple(
        replace(
            as_planned(one), state=state, ended_because="chosen" if state == "not_needed" else ""
        )
        for one, state in zip(first, states, strict=True)
    )


def ends(rows: Rows) -> dict[str, tuple[object, ...]]:
    """Return what of an end must not depend on the way to it.

    A slot that was cancelled on the way, and a miss, stay what they are; where the review waits, it
    waits by the same window.
    """
    found: dict[str, tuple[object, ...]] = {}
    for one in rows:
        state = "waits" if one.state in WAITING else one.state
        day = one.proposed_on if one.state == "planned" else None
        found[one.step_code] = (state, one.window, one.ended_because, day)
    return found


def same(one: dict[str, tuple[object, ...]], other: dict[str, tuple[object, ...]]) -> bool:
    """Compare two ends; a proposed day counts where both propose one."""
    return one.keys() == other.keys() and all(
        mine[:3] == theirs[:3] and (None in (mine[3], theirs[3]) or mine[3] == theirs[3])
        for mine, theirs in ((one[code], other[code]) for code in one)
    )


@given(facts=FACTS, states=STATES, today=TODAYS)
def test_planning_twice_is_planning_once(facts: Facts, states: list[str], today: date) -> None:
    once = planned(facts, standing(facts, states), today)
    assert difference(facts, once, today).is_empty


@given(before=FACTS, after=FACTS, states=STATES, today=TODAYS)
def test_what_was_done_or_decided_stays_whatever_is_corrected(
    before: Facts, after: Facts, states: list[str], today: date
) -> None:
    rows = standing(before, states)
    now = {one.step_code: one for one in planned(after, rows, today)}
    for one in rows:
        if one.state in DECIDED:
            assert now[one.step_code] == one


@given(before=FACTS, after=FACTS, states=STATES, today=TODAYS)
def test_every_date_is_inside_its_window_and_after_the_operation(
    before: Facts, after: Facts, states: list[str], today: date
) -> None:
    steps = {step.code: step for step in STEPS}
    change = difference(after, planned(before, standing(before, states), today), today)
    for one in (*change.create, *change.move, *change.reopen):
        assert one.window == window_for(after.operated_on, steps[one.step_code])
        assert after.operated_on <= one.window.opens_on <= one.window.due_on
        assert one.window.due_on <= one.window.closes_on
        assert one.window.holds(one.proposed_on)


@given(
    start=FACTS,
    states=STATES,
    today=TODAYS,
    operated_on=OPERATIONS,
    calendar=CALENDARS,
    endings=st.dictionaries(st.sampled_from(CLOSED_BY[:5]), st.none() | LATER, max_size=4),
    data=st.data(),
)
def test_any_order_of_corrections_gives_the_same_end(
    start: Facts,
    states: list[str],
    today: date,
    operated_on: date,
    calendar: Calendar,
    endings: dict[str, date | None],
    data: st.DataObject,
) -> None:
    corrections: list[tuple[str, object]] = [("operated_on", operated_on), ("calendar", calendar)]
    corrections += [
        (because, on) for because, on in endings.items() if on is not None or because in UNDOABLE
    ]
    first = planned(start, standing(start, states), today)
    found = []
    for order in (corrections, data.draw(st.permutations(corrections))):
        facts, rows = start, first
        for name, value in order:
            if name in ("operated_on", "calendar"):
                facts = replace(facts, **{name: value})
            else:
                facts = facts.with_ending(name, value)  # type: ignore[arg-type]
            rows = planned(facts, rows, today)
        found.append(ends(rows))
    assert same(*found)


@given(facts=FACTS, states=STATES, today=TODAYS, because=st.sampled_from(UNDOABLE), on=LATER)
def test_an_ending_that_is_taken_back_leaves_no_trace_but_cancelled_slots(
    facts: Facts, states: list[str], today: date, because: str, on: date
) -> None:
    facts = facts.with_ending(because, None)
    start = planned(facts, standing(facts, states), today)
    ended = planned(facts.with_ending(because, on), start, today)
    back = ends(planned(facts, ended, today))
    for code, was in ends(start).items():
        # What had lapsed waits again, and lapses in the night as every review whose window is over.
        now = back[code]
        assert now[1:3] == was[1:3]
        assert now[0] == was[0] or (was[0], now[0]) == ("lapsed", "waits")


@given(
    facts=FACTS.map(lambda one: replace(one, endings=())),
    states=STATES,
    because=st.sampled_from(CLOSED_BY[:5]),
    on=LATER,
    today=TODAYS,
)
def test_an_ending_closes_what_it_reaches_and_nothing_else(
    facts: Facts, states: list[str], because: str, on: date, today: date
) -> None:
    start = planned(facts, standing(facts, states), today)
    after = {one.step_code: one for one in planned(facts.with_ending(because, on), start, today)}
    for one in start:
        reached = one.window.closes_on >= on
        open_to_it = one.state in (*WAITING, "lapsed") or one.ended_because == "protocol"
        if one.step_code == GONE.code and one.state == "lapsed":
            open_to_it = False
        now = after[one.step_code]
        if reached and open_to_it:
            assert (now.state, now.ended_because) == ("not_needed", because)
            assert now.window == one.window
        else:
            assert now == one


@given(facts=FACTS, states=STATES, today=TODAYS)
def test_whoever_is_back_gets_only_what_is_still_possible(
    facts: Facts, states: list[str], today: date
) -> None:
    for because in ("withdrawal", "moved"):
        here = replace(facts, endings=())
        start = planned(here, standing(here, states), today)
        away = planned(here.with_ending(because, here.operated_on), start, today)
        now = {one.step_code: one for one in planned(here, away, today)}
        for one in away:
            if one.ended_because == because and one.step_code != GONE.code:
                possible = one.window.closes_on >= today
                assert now[one.step_code].state == ("planned" if possible else "not_needed")


@given(facts=FACTS, today=TODAYS)
def test_the_proposed_day_is_a_clinic_day_wherever_the_window_has_one(
    facts: Facts, today: date
) -> None:
    for one in planned(replace(facts, endings=()), (), today):
        days = _days(one.window)
        held = [day for day in days if facts.calendar.is_clinic_day(day)]
        assert one.proposed_on in (held or [one.window.due_on])
        best = min((abs((day - one.window.due_on).days) for day in held), default=0)
        assert abs((one.proposed_on - one.window.due_on).days) == best


@given(operated_on=st.dates(date(2023, 6, 1), date(2026, 6, 30)), weekday=st.integers(0, 4))
def test_no_review_is_proposed_on_a_public_holiday_while_another_day_is_held(
    operated_on: date, weekday: int
) -> None:
    for known in HOLIDAYS:
        facts = Facts(operated_on, Calendar(frozenset({weekday, 2}), known), ())
        for one in planned(facts, (), operated_on):
            possible = [day for day in _days(one.window) if facts.calendar.is_clinic_day(day)]
            assert one.proposed_on not in known or not possible


# Worked by hand: months end at the last day of a shorter month, weeks are always seven days.
@pytest.mark.parametrize(
    ("operated_on", "value", "unit", "due_on"),
    [
        (date(2026, 1, 31), 1, "months", date(2026, 2, 28)),
        (date(2026, 1, 31), 3, "months", date(2026, 4, 30)),
        (date(2026, 1, 31), 6, "weeks", date(2026, 3, 14)),
        (date(2026, 1, 31), 12, "weeks", date(2026, 4, 25)),
        (date(2026, 1, 31), 52, "weeks", date(2027, 1, 30)),
        (date(2026, 1, 31), 12, "months", date(2027, 1, 31)),
        (date(2024, 2, 29), 12, "months", date(2025, 2, 28)),
        (date(2024, 2, 29), 48, "months", date(2028, 2, 29)),
        (date(2024, 2, 29), 52, "weeks", date(2025, 2, 27)),
        (date(2023, 11, 30), 3, "months", date(2024, 2, 29)),
    ],
)
def test_months_and_weeks_are_planned_as_they_are_counted(
    operated_on: date, value: int, unit: str, due_on: date
) -> None:
    every_day = Calendar(frozenset(range(7)))
    (one,) = plan(operated_on, [StepPlan("x", value, unit, 3, 3)], every_day, ()).create
    assert (one.window.due_on, one.proposed_on) == (due_on, due_on)


@given(operated_on=st.dates(date(2019, 1, 1), date(2033, 12, 31)), value=st.integers(0, 130))
def test_a_month_later_is_the_same_day_or_the_last_of_a_shorter_month(
    operated_on: date, value: int
) -> None:
    due = window_for(operated_on, StepPlan("x", value, "months", 0, 0)).due_on
    apart = (due.year - operated_on.year) * 12 + due.month - operated_on.month
    last = months.monthrange(due.year, due.month)[1]
    assert apart == value
    assert due.day == operated_on.day or (due.day == last and operated_on.day > last)


def _days(window: Window) -> list[date]:
    span = (window.closes_on - window.opens_on).days
    return [window.opens_on + timedelta(days=n) for n in range(span + 1)]
