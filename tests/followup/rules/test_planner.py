from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules import states
from followup.rules.planner import (
    Calendar,
    Difference,
    Ending,
    ExistingReview,
    PlannedReview,
    plan,
    propose_day,
)
from followup.rules.windows import StepPlan, Window, window_for

OPERATED = date(2026, 6, 5)
STEPS = (
    StepPlan("2w", 2, "weeks", 4, 7),
    StepPlan("6w", 6, "weeks", 14, 14),
    StepPlan("3m", 3, "months", 21, 21),
    StepPlan("12m", 12, "months", 60, 90),
)
EVERY_DAY = Calendar(frozenset(range(7)))
TUESDAYS = Calendar(frozenset({1}))
# What stands by what somebody did; 'not_needed' was decided in clinic.
HAPPENED = ("attended", "not_needed")


def applied(
    existing: Sequence[ExistingReview], difference: Difference
) -> tuple[ExistingReview, ...]:
    """Return what stands after a difference was carried out."""
    there = {review.step_code: review for review in existing}
    for new in difference.create:
        there[new.step_code] = _as_existing(new)
    for moved in difference.move:
        state = there[moved.step_code].state
        because = there[moved.step_code].ended_because
        there[moved.step_code] = replace(_as_existing(moved), state=state, ended_because=because)
    for code, because in difference.close.items():
        there[code] = replace(there[code], state="not_needed", ended_because=because)
    for again in difference.reopen:
        there[again.step_code] = _as_existing(again)
    return tuple(there.values())


def _as_existing(planned: PlannedReview) -> ExistingReview:
    return ExistingReview(planned.step_code, planned.window, planned.proposed_on, "planned")


def planned(
    on: date = OPERATED, calendar: Calendar = EVERY_DAY, **changed: str
) -> tuple[ExistingReview, ...]:
    """Return the reviews of the four steps, each planned unless its state is given by its code."""
    made = applied((), plan(on, STEPS, calendar, ()))
    return tuple(
        replace(
            review,
            state=changed.get(f"at_{review.step_code}", review.state),
            ended_because="chosen" if changed.get(f"at_{review.step_code}") == "not_needed" else "",
        )
        for review in made
    )


# Any mixture of what may stand: steps without a review, open ones, and what has happened.
MIXTURES = st.tuples(
    *(st.sampled_from(["", "planned", "booked", "missed", "lapsed", *HAPPENED]) for _ in STEPS)
).map(
    lambda chosen: tuple(
        review
        for state, review in zip(
            chosen,
            planned(
                **{f"at_{step.code}": state for step, state in zip(STEPS, chosen, strict=True)}
            ),
            strict=True,
        )
        if state
    )
)
OPERATIONS = st.dates(date(2024, 1, 1), date(2028, 12, 31))
ENDINGS = st.lists(
    st.builds(
        Ending,
        st.sampled_from(["death", "withdrawal", "moved", "revision", "removal"]),
        OPERATIONS,
    ),
    max_size=3,
)
CALENDARS = st.builds(
    Calendar,
    st.frozensets(st.integers(0, 6)),
    st.frozensets(st.dates(date(2024, 1, 1), date(2029, 12, 31)), max_size=40),
)


def test_every_step_is_planned_with_its_window() -> None:
    difference = plan(OPERATED, STEPS, EVERY_DAY, ())
    assert [one.step_code for one in difference.create] == ["2w", "6w", "3m", "12m"]
    assert difference.create[1] == PlannedReview(
        "6w", Window(date(2026, 7, 3), date(2026, 7, 17), date(2026, 7, 31)), date(2026, 7, 17)
    )
    assert not difference.is_empty


def test_a_case_entered_years_later_gets_the_reviews_whose_windows_are_long_over() -> None:
    difference = plan(date(2016, 6, 5), STEPS, EVERY_DAY, (), today=date(2026, 11, 25))
    assert len(difference.create) == 4


@given(
    operated=OPERATIONS, calendar=CALENDARS, existing=MIXTURES, endings=ENDINGS, today=OPERATIONS
)
def test_planning_twice_changes_nothing(
    operated: date,
    calendar: Calendar,
    existing: tuple[ExistingReview, ...],
    endings: list[Ending],
    today: date,
) -> None:
    once = plan(operated, STEPS, calendar, existing, endings, today)
    again = plan(operated, STEPS, calendar, applied(existing, once), endings, today)
    assert again.is_empty


@given(operated=OPERATIONS, calendar=CALENDARS, existing=MIXTURES, endings=ENDINGS)
def test_what_has_happened_is_never_touched(
    operated: date,
    calendar: Calendar,
    existing: tuple[ExistingReview, ...],
    endings: list[Ending],
) -> None:
    difference = plan(operated, STEPS, calendar, existing, endings, date(2026, 1, 1))
    touched = {one.step_code for one in (*difference.create, *difference.move, *difference.reopen)}
    happened = {one.step_code for one in existing if one.state in HAPPENED}
    assert not touched & happened
    assert not set(difference.close) & happened


@given(operated=OPERATIONS, existing=MIXTURES)
def test_without_an_ending_every_step_has_exactly_one_review(
    operated: date, existing: tuple[ExistingReview, ...]
) -> None:
    after = applied(existing, plan(operated, STEPS, EVERY_DAY, existing))
    assert sorted(one.step_code for one in after) == sorted(step.code for step in STEPS)


@given(operated=OPERATIONS, existing=MIXTURES)
def test_a_corrected_operation_date_moves_all_that_is_open_and_nothing_else(
    operated: date, existing: tuple[ExistingReview, ...]
) -> None:
    after = {
        one.step_code: one for one in applied(existing, plan(operated, STEPS, EVERY_DAY, existing))
    }
    for before in existing:
        now = after[before.step_code]
        if before.state in (*HAPPENED, "lapsed"):
            assert now == before
        else:
            step = next(one for one in STEPS if one.code == before.step_code)
            assert now.window == window_for(operated, step)
            assert now.state == before.state


def test_a_later_operation_date_moves_the_proposed_day_too() -> None:
    moved = plan(OPERATED + timedelta(days=7), STEPS, EVERY_DAY, planned(at_2w="attended")).move
    assert [(one.step_code, one.proposed_on) for one in moved] == [
        ("6w", date(2026, 7, 24)),
        ("3m", date(2026, 9, 12)),
        ("12m", date(2027, 6, 12)),
    ]


@pytest.mark.parametrize("because", states.CLOSED_BY)
def test_an_ending_closes_what_is_open_on_its_day_and_later(because: str) -> None:
    existing = planned(at_2w="attended", at_3m="booked")
    difference = plan(OPERATED, STEPS, EVERY_DAY, existing, [Ending(because, date(2026, 7, 31))])
    assert difference == Difference(close={"6w": because, "3m": because, "12m": because})


def test_an_ending_closes_a_missed_review_that_waits_for_a_new_slot() -> None:
    existing = planned(at_2w="attended", at_6w="missed")
    difference = plan(OPERATED, STEPS, EVERY_DAY, existing, [Ending("revision", date(2026, 7, 20))])
    assert set(difference.close) == {"6w", "3m", "12m"}
    later = plan(OPERATED, STEPS, EVERY_DAY, existing, [Ending("revision", date(2026, 8, 1))])
    assert set(later.close) == {"3m", "12m"}


def test_a_window_that_was_over_before_the_ending_stays_open() -> None:
    difference = plan(OPERATED, STEPS, EVERY_DAY, planned(), [Ending("death", date(2026, 8, 1))])
    assert dict(difference.close) == {"3m": "death", "12m": "death"}


def test_of_several_endings_the_earliest_gives_the_reason() -> None:
    endings = [Ending("death", date(2026, 9, 1)), Ending("revision", date(2026, 8, 1))]
    assert set(plan(OPERATED, STEPS, EVERY_DAY, planned(), endings).close.values()) == {"revision"}


def test_nothing_is_planned_after_an_ending() -> None:
    difference = plan(OPERATED, STEPS, EVERY_DAY, (), [Ending("moved", date(2026, 8, 1))])
    assert [one.step_code for one in difference.create] == ["2w", "6w"]


@given(operated=OPERATIONS, existing=MIXTURES, endings=ENDINGS)
def test_an_ending_closes_only_what_has_not_happened_and_only_with_the_reason_of_an_ending(
    operated: date, existing: tuple[ExistingReview, ...], endings: list[Ending]
) -> None:
    close = plan(operated, STEPS, EVERY_DAY, existing, endings).close
    happened = {one.step_code for one in existing if one.state in HAPPENED}
    assert not set(close) & happened
    assert set(close.values()) <= {one.because for one in endings}


@given(operated=OPERATIONS, calendar=CALENDARS, existing=MIXTURES, endings=ENDINGS)
def test_every_planned_review_is_accounted_for_once(
    operated: date,
    calendar: Calendar,
    existing: tuple[ExistingReview, ...],
    endings: list[Ending],
) -> None:
    after = applied(existing, plan(operated, STEPS, calendar, existing, endings))
    counts = {"all": len(after)}
    for review in after:
        names = {"attended": "done_in_window", "planned": "open", "booked": "open"}
        name = names.get(review.state, review.state)
        if review.state == "not_needed" and review.ended_because != "chosen":
            name = review.ended_because
        counts[name] = counts.get(name, 0) + 1
    assert states.daily_sum(counts) == (len(after), 0)


def test_a_review_opens_again_when_the_revision_that_closed_it_was_entered_in_error() -> None:
    existing = planned(at_2w="attended")
    revision = [Ending("revision", date(2026, 8, 1))]
    closed = applied(existing, plan(OPERATED, STEPS, EVERY_DAY, existing, revision))
    difference = plan(OPERATED, STEPS, EVERY_DAY, closed, today=date(2026, 9, 1))
    assert [one.step_code for one in difference.reopen] == ["3m", "12m"]


@pytest.mark.parametrize(
    ("because", "opened"), [("moved", ["3m", "12m"]), ("death", ["6w", "3m", "12m"])]
)
def test_what_can_no_longer_happen_is_opened_again_only_after_a_death_in_error(
    because: str, opened: list[str]
) -> None:
    existing = planned()
    endings = [Ending(because, date(2026, 7, 1))]
    closed = applied(existing, plan(OPERATED, STEPS, EVERY_DAY, existing, endings))
    difference = plan(OPERATED, STEPS, EVERY_DAY, closed, today=date(2026, 8, 1))
    assert [one.step_code for one in difference.reopen] == opened
    assert plan(OPERATED, STEPS, EVERY_DAY, closed).is_empty


def test_a_missed_review_keeps_its_state_and_follows_the_corrected_day() -> None:
    (moved,) = plan(OPERATED, STEPS, EVERY_DAY, planned(date(2026, 6, 1), at_6w="missed")).move[1:2]
    assert moved == PlannedReview("6w", window_for(OPERATED, STEPS[1]), date(2026, 7, 17))


def test_what_lapsed_by_a_wrong_year_waits_again_when_the_year_is_corrected() -> None:
    typed = planned(date(2025, 6, 5), at_2w="attended", at_6w="lapsed", at_3m="lapsed")
    difference = plan(OPERATED, STEPS, EVERY_DAY, typed, today=date(2026, 7, 1))
    assert [one.step_code for one in difference.reopen] == ["6w", "3m"]
    assert [one.step_code for one in difference.move] == ["12m"]
    assert not plan(OPERATED, STEPS, EVERY_DAY, typed).reopen


def test_an_ending_that_is_told_late_closes_what_lapsed_meanwhile() -> None:
    existing = planned(at_2w="attended", at_6w="lapsed", at_3m="lapsed")
    difference = plan(OPERATED, STEPS, EVERY_DAY, existing, [Ending("death", date(2026, 8, 2))])
    assert dict(difference.close) == {"3m": "death", "12m": "death"}


def test_an_earlier_ending_that_is_told_later_gives_the_reason() -> None:
    existing = planned()
    death, revision = Ending("death", date(2026, 9, 1)), Ending("revision", date(2026, 8, 1))
    closed = applied(existing, plan(OPERATED, STEPS, EVERY_DAY, existing, [death]))
    difference = plan(OPERATED, STEPS, EVERY_DAY, closed, [death, revision])
    assert dict(difference.close) == {"3m": "revision", "12m": "revision"}


def test_of_two_endings_of_one_day_death_gives_the_reason_in_either_order() -> None:
    on = date(2026, 8, 1)
    for endings in (("revision", "death"), ("death", "revision")):
        given_ = [Ending(because, on) for because in endings]
        closed = plan(OPERATED, STEPS, EVERY_DAY, planned(), given_).close
        assert set(closed.values()) == {"death"}


def test_a_revision_in_error_opens_again_what_is_over_too() -> None:
    existing = planned()
    revision = [Ending("revision", date(2026, 7, 1))]
    closed = applied(existing, plan(OPERATED, STEPS, EVERY_DAY, existing, revision))
    difference = plan(OPERATED, STEPS, EVERY_DAY, closed, today=date(2027, 1, 1))
    assert [one.step_code for one in difference.reopen] == ["6w", "3m", "12m"]


def test_a_step_that_the_protocol_no_longer_has_is_closed_unless_it_happened() -> None:
    existing = planned(at_2w="attended", at_6w="lapsed", at_3m="booked")
    difference = plan(OPERATED, STEPS[:1], EVERY_DAY, existing)
    assert difference == Difference(close={"3m": "protocol", "12m": "protocol"})
    dead = [Ending("death", date(2026, 8, 1))]
    assert set(plan(OPERATED, STEPS[:1], EVERY_DAY, existing, dead).close.values()) == {"death"}


def test_a_step_that_the_protocol_has_again_comes_back_while_its_window_is_open() -> None:
    existing = planned(at_2w="attended")
    gone = applied(existing, plan(OPERATED, STEPS[:1], EVERY_DAY, existing))
    difference = plan(OPERATED, STEPS, EVERY_DAY, gone, today=date(2026, 9, 1))
    assert [one.step_code for one in difference.reopen] == ["3m", "12m"]


def test_what_waits_under_another_version_follows_and_what_happened_does_not() -> None:
    existing = tuple(
        replace(one, follows=False)
        for one in planned(at_2w="attended", at_6w="lapsed", at_3m="booked")
    )
    difference = plan(OPERATED, STEPS, EVERY_DAY, existing, today=date(2026, 9, 1))
    assert [one.step_code for one in difference.move] == ["3m", "12m"]
    assert difference == Difference(move=difference.move)


def test_a_day_that_a_person_chose_stays_while_it_can() -> None:
    chosen = date(2026, 7, 21)
    existing = tuple(
        replace(one, proposed_on=chosen, day_chosen=True) if one.step_code == "6w" else one
        for one in planned(calendar=TUESDAYS)
    )
    assert plan(OPERATED, STEPS, TUESDAYS, existing).is_empty
    closed = Calendar(frozenset({1}), frozenset({chosen}))
    (moved,) = plan(OPERATED, STEPS, closed, existing).move
    assert moved.proposed_on == date(2026, 7, 14)
    not_chosen = [replace(one, day_chosen=False) for one in existing]
    assert plan(OPERATED, STEPS, TUESDAYS, not_chosen).move == (moved,)


def test_what_was_decided_in_clinic_is_not_opened_again() -> None:
    existing = planned(at_3m="not_needed")
    assert plan(OPERATED, STEPS, EVERY_DAY, existing, today=OPERATED).is_empty


def test_a_clinic_day_near_the_due_day_is_proposed() -> None:
    # 17 July 2026 is a Friday; Tuesdays near it are 14 and 21 July, three and four days away.
    assert planned(calendar=TUESDAYS)[1].proposed_on == date(2026, 7, 14)


def test_of_two_clinic_days_as_near_the_earlier_is_proposed() -> None:
    window = Window(date(2026, 7, 10), date(2026, 7, 17), date(2026, 7, 24))
    assert propose_day(window, Calendar(frozenset({3, 5}))) == date(2026, 7, 16)


def test_a_closed_day_is_passed_over() -> None:
    closed = Calendar(frozenset({1}), frozenset({date(2026, 7, 14)}))
    assert planned(calendar=closed)[1].proposed_on == date(2026, 7, 21)


def test_a_site_that_named_no_weekday_holds_clinic_from_monday_to_friday() -> None:
    window = Window(date(2026, 7, 10), date(2026, 7, 18), date(2026, 7, 24))
    assert propose_day(window, Calendar()) == date(2026, 7, 17)


def test_a_window_without_a_clinic_day_proposes_the_due_day() -> None:
    window = Window(date(2026, 7, 15), date(2026, 7, 17), date(2026, 7, 19))
    assert propose_day(window, TUESDAYS) == date(2026, 7, 17)


def test_a_day_closed_afterwards_moves_the_proposal_but_not_a_booked_slot() -> None:
    existing = planned(calendar=TUESDAYS, at_6w="booked")
    proposed = {one.step_code: one.proposed_on for one in existing}
    closed = Calendar(frozenset({1}), frozenset({proposed["6w"], proposed["3m"]}))
    (moved,) = plan(OPERATED, STEPS, closed, existing).move
    assert moved.step_code == "3m"
    assert moved.proposed_on != proposed["3m"]
    assert moved.window == existing[2].window


@given(operated=OPERATIONS, calendar=CALENDARS)
def test_the_proposed_day_never_leaves_the_window(operated: date, calendar: Calendar) -> None:
    for one in plan(operated, STEPS, calendar, ()).create:
        assert one.window.holds(one.proposed_on)


@given(operated=OPERATIONS, calendar=CALENDARS)
def test_no_clinic_day_of_the_window_is_nearer_than_the_proposed_one(
    operated: date, calendar: Calendar
) -> None:
    for one in plan(operated, STEPS, calendar, ()).create:
        span = (one.window.closes_on - one.window.opens_on).days
        held = [
            day
            for day in (one.window.opens_on + timedelta(days=n) for n in range(span + 1))
            if calendar.is_clinic_day(day)
        ]
        nearest = min((abs((day - one.window.due_on).days) for day in held), default=0)
        assert abs((one.proposed_on - one.window.due_on).days) == nearest
        assert not held or one.proposed_on in held
