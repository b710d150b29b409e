"""A motion exam against its milestone and the other side."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.milestones import (
    ERROR_DEG,
    Assessment,
    Measured,
    OtherSide,
    Schedule,
    StepMilestones,
    Verdict,
    assess,
    step_at,
)
from followup.rules.step_milestones import Milestone
from followup.rules.windows import Window

OPERATED = date(2026, 6, 5)
SURE = OtherSide(uninjured=True, measured=(Measured(OPERATED, "active", {"flexion": 160}),))
NOBODY = OtherSide(uninjured=True)
LIMIT = Milestone("flexion", "passive", None, 90, "no higher than the shoulder", "ours")
PASSIVE = Milestone("flexion", "passive", 90, None, "passive elevation to 90 degrees", "ours")
ACTIVE = Milestone("flexion", "active", 120, None, "above the shoulder", "ours")
WORDS = Milestone("", "", None, None, "strengthening from 12 weeks", "ours")


def step(name: str, opens: int, closes: int, *milestones: Milestone) -> StepMilestones:
    """Return a step whose window is given in days after the operation."""
    first, last = (OPERATED + timedelta(days=days) for days in (opens, closes))
    return StepMilestones(name, Window(first, first, last), milestones)


SCHEDULE = Schedule(
    OPERATED,
    (
        step("2 weeks", 10, 21, LIMIT),
        step("6 weeks", 28, 56, PASSIVE),
        step("3 months", 70, 112, ACTIVE, WORDS),
    ),
)


def on(days: int, mode: str = "active", **degrees: int) -> Measured:
    return Measured(OPERATED + timedelta(days=days), mode, degrees)


def judged(*exams: Measured, other: OtherSide = NOBODY) -> Assessment:
    return assess(exams, [SCHEDULE], other)[0]


@pytest.mark.parametrize(
    ("days", "name"),
    [
        (9, None),
        (10, "2 weeks"),
        (21, "2 weeks"),
        (27, "2 weeks"),
        (28, "6 weeks"),
        (60, "6 weeks"),
        (70, "3 months"),
        (900, "3 months"),
    ],
)
def test_a_day_belongs_to_the_step_that_holds_it_or_that_opened_last(
    days: int, name: str | None
) -> None:
    found = step_at(OPERATED + timedelta(days=days), [SCHEDULE])
    assert (found.name if found else None) == name


def test_the_schedule_of_the_last_operation_counts() -> None:
    again = OPERATED + timedelta(days=50)
    later = Schedule(again, (step("after removal", 60, 70, ACTIVE),))
    found = [step_at(again + timedelta(days=days), [SCHEDULE, later]) for days in (-1, 5, 12)]
    assert [one.name if one else None for one in found] == ["6 weeks", None, "after removal"]


@pytest.mark.parametrize(
    ("exam", "verdict"),
    [
        (on(80, flexion=120), Verdict.REACHED),
        (on(80, flexion=119), Verdict.BEHIND),
        (on(40, "passive", flexion=90), Verdict.REACHED),
        (on(40, "passive", flexion=60), Verdict.BEHIND),
        (on(14, "passive", flexion=90), Verdict.REACHED),
        (on(14, "passive", flexion=91), Verdict.ABOVE_LIMIT),
        (on(80, abduction=120), Verdict.NOT_EVALUABLE),
        (on(80, "passive", flexion=150), Verdict.NOT_EVALUABLE),
    ],
)
def test_the_exam_is_held_against_the_milestone_of_its_week(
    exam: Measured, verdict: Verdict
) -> None:
    assert judged(exam).verdict == verdict


def test_behind_names_what_was_needed_found_and_the_other_side() -> None:
    told = judged(on(80, flexion=85), other=SURE)
    assert told.sentence == (
        "3 months, active flexion: behind; needed 120 degrees, found 85, other side 160 "
        "(05 Jun 2026)"
    )
    assert told.needs_attention


def test_what_is_within_measurement_error_of_the_other_side_is_not_behind() -> None:
    stiff = OtherSide(uninjured=True, measured=(on(0, flexion=119),))
    assert judged(on(80, flexion=100), other=stiff).verdict == Verdict.WITHIN_ERROR
    assert judged(on(80, flexion=99), other=stiff).verdict == Verdict.BEHIND
    assert not judged(on(80, flexion=100), other=stiff).needs_attention


@pytest.mark.parametrize(("found", "doubtful"), [(96, True), (95, False), (119, True)])
def test_a_shortfall_that_two_examiners_could_find_says_so(found: int, *, doubtful: bool) -> None:
    sentence = judged(on(80, flexion=found)).sentence
    assert ("two examiners can differ by 20 to 25 degrees" in sentence) is doubtful


def test_a_protective_limit_is_told_with_its_numbers() -> None:
    told = judged(on(14, "passive", flexion=130))
    assert told.sentence == (
        "2 weeks, passive flexion: above the limit; allowed up to 90 degrees, found 130"
    )


@pytest.mark.parametrize(
    ("other", "why"),
    [
        (OtherSide(uninjured=False, measured=SURE.measured), "is not known to be uninjured"),
        (NOBODY, "the other side was not measured"),
        (OtherSide(uninjured=True, measured=(on(81, flexion=160),)), "was not measured"),
        (OtherSide(uninjured=True, measured=(on(0, "passive", flexion=160),)), "not measured"),
    ],
    ids=["injured", "never", "later", "in another mode"],
)
def test_the_other_side_counts_only_where_it_can(other: OtherSide, why: str) -> None:
    told = judged(on(80, flexion=85), other=other)
    assert (told.verdict, told.other_deg) == (Verdict.BEHIND, None)
    assert why in told.sentence


def test_the_last_exam_of_the_other_side_is_the_reference() -> None:
    twice = OtherSide(uninjured=True, measured=(on(79, flexion=150), on(10, flexion=170)))
    told = judged(on(80, flexion=85), other=twice)
    assert (told.other_deg, told.other_on) == (150, OPERATED + timedelta(days=79))


@pytest.mark.parametrize(
    ("days", "active", "verdict"),
    [
        (40, 95, Verdict.REACHED),
        (40, 60, Verdict.NOT_EVALUABLE),
        (14, 100, Verdict.ABOVE_LIMIT),
        (14, 60, Verdict.NOT_EVALUABLE),
    ],
)
def test_active_motion_shows_what_passive_motion_was_at_least(
    days: int, active: int, verdict: Verdict
) -> None:
    told = judged(on(days, flexion=active))
    assert told.verdict == verdict
    if verdict == Verdict.NOT_EVALUABLE:
        assert "passive flexion was not measured" in told.sentence


def test_a_rule_in_words_is_shown_and_not_judged() -> None:
    told = assess([on(80, flexion=130)], [SCHEDULE], NOBODY)[1]
    assert told.sentence == (
        "3 months, strengthening from 12 weeks: not evaluable; a rule in words, without degrees"
    )


def test_without_an_exam_or_a_step_there_is_nothing_to_say() -> None:
    assert assess([], [SCHEDULE], SURE) == ()
    assert assess([on(3, flexion=20)], [SCHEDULE], SURE) == ()
    assert assess([on(80, flexion=20)], [], SURE) == ()


def test_exams_of_two_days_are_refused() -> None:
    with pytest.raises(ValueError, match="exams of 2 days were given"):
        assess([on(80, flexion=20), on(81, flexion=20)], [SCHEDULE], SURE)


@given(found=st.integers(0, 190), more=st.integers(0, 60), other=st.integers(0, 190))
def test_more_motion_never_turns_reached_into_behind(found: int, more: int, other: int) -> None:
    beside = OtherSide(uninjured=True, measured=(on(0, flexion=other),))
    first = judged(on(80, flexion=found), other=beside)
    second = judged(on(80, flexion=min(190, found + more)), other=beside)
    assert not (first.verdict != Verdict.BEHIND and second.verdict == Verdict.BEHIND)
    if first.verdict == Verdict.BEHIND:
        assert found < 120
        assert other - found >= ERROR_DEG
