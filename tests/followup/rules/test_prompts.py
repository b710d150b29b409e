from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.prompts import (
    LOUDNESS_WORDS,
    NEXT,
    OPEN,
    WORDS,
    Loudness,
    PromptFacts,
    fact_of,
    loudness,
    move,
    planned_removal_opens,
    sentence,
    unsettle,
)
from registry.errors import IllegalTransition

OPERATED = date(2026, 6, 5)
# A hook plate whose window opens in week 12 and that is due out by week 16, raised on the first day.
HOOK = PromptFacts(
    today=date(2026, 8, 28),
    performed_on=OPERATED,
    state="raised",
    waiting_since=date(2026, 8, 28),
    opens_weeks=12,
    due_weeks=16,
)
SORE = replace(HOOK, opens_weeks=None, due_weeks=None)


def at(facts: PromptFacts, days: int, **changes: object) -> PromptFacts:
    """Return the facts a number of days after the question was raised."""
    return replace(facts, today=facts.waiting_since + timedelta(days=days), **changes)  # type: ignore[arg-type]


def test_the_window_of_a_planned_removal_opens_in_its_week() -> None:
    assert planned_removal_opens(OPERATED, 12) == date(2026, 8, 28)


@pytest.mark.parametrize("present", sorted(NEXT))
def test_every_step_that_is_not_listed_names_both_states(present: str) -> None:
    for wanted in WORDS:
        if wanted in NEXT[present]:
            assert move(present, wanted) == wanted
        else:
            with pytest.raises(
                IllegalTransition, match=f"'{present}' and cannot become '{wanted}'"
            ):
                move(present, wanted)


def test_a_done_removal_has_no_way_on_and_a_refusal_back_or_out() -> None:
    assert NEXT["done"] == frozenset()
    assert NEXT["declined"] == {"raised", "done"}


def test_every_open_question_can_be_answered() -> None:
    for state in OPEN:
        assert {"discussed", "planned", "deferred", "declined", "done"} <= NEXT[state]


def test_a_removal_entered_in_error_is_asked_again() -> None:
    assert unsettle("done") == "raised"
    with pytest.raises(IllegalTransition, match="'planned' and cannot become 'raised'"):
        unsettle("planned")


@pytest.mark.parametrize(
    ("days", "loud"),
    [
        (0, Loudness.NOTICE),
        (27, Loudness.NOTICE),
        (28, Loudness.ASK),  # week 16 to the day
        (29, Loudness.ACT),
    ],
)
def test_a_hook_plate_grows_louder_until_its_time_is_past(days: int, loud: Loudness) -> None:
    assert loudness(at(HOOK, days)) == loud


@pytest.mark.parametrize(
    ("days", "loud"),
    [
        (0, Loudness.NOTICE),
        (28, Loudness.ASK),
        (83, Loudness.ASK),
        (84, Loudness.ACT),
    ],
)
def test_symptomatic_hardware_grows_louder_by_waiting(days: int, loud: Loudness) -> None:
    assert loudness(at(SORE, days)) == loud


@pytest.mark.parametrize("state", ["declined", "done"])
def test_an_answered_question_is_silent(state: str) -> None:
    assert loudness(at(HOOK, 365, state=state)) == Loudness.RESTING


def test_a_deferred_question_returns_on_its_day() -> None:
    back = date(2026, 12, 1)
    deferred = replace(SORE, state="deferred", deferred_until=back)
    assert loudness(replace(deferred, today=back - timedelta(days=1))) == Loudness.RESTING
    assert loudness(replace(deferred, today=back)) == Loudness.ACT


def test_a_planned_removal_is_quiet_until_its_wish_date() -> None:
    planned = replace(SORE, state="planned", wish_on=date(2026, 12, 1))
    assert loudness(replace(planned, today=date(2026, 12, 1))) == Loudness.NOTICE
    assert loudness(replace(planned, today=date(2026, 12, 2))) == Loudness.ACT


def test_a_plan_for_a_day_beyond_the_removal_time_does_not_quieten() -> None:
    planned = at(HOOK, 60, state="planned", wish_on=date(2027, 6, 1))
    assert loudness(planned) == Loudness.ACT


@given(
    first=st.integers(0, 400),
    later=st.integers(0, 400),
    facts=st.sampled_from([HOOK, SORE, replace(HOOK, state="discussed")]),
)
def test_waiting_never_makes_an_undecided_question_quieter(
    first: int, later: int, facts: PromptFacts
) -> None:
    low, high = sorted((first, later))
    assert loudness(at(facts, low)) <= loudness(at(facts, high))


@pytest.mark.parametrize(
    ("days", "union", "union_on", "said"),
    [
        (
            0,
            "united",
            date(2026, 8, 20),
            "12 weeks since surgery, due by week 16; union confirmed on the film of 20 Aug 2026.",
        ),
        (
            35,
            "partial",
            date(2026, 8, 20),
            (
                "17 weeks since surgery, 1 week past its time; "
                "union not confirmed (last judged on 20 Aug 2026)."
            ),
        ),
        (
            70,
            None,
            None,
            "22 weeks since surgery, 6 weeks past its time; no film judged for union yet.",
        ),
    ],
)
def test_the_sentence_says_why_how_long_and_whether_it_united(
    days: int, union: str | None, union_on: date | None, said: str
) -> None:
    facts = at(HOOK, days)
    whole = sentence(facts, because="Meant to come out", union=union, union_on=union_on)
    assert whole == f"Meant to come out; {said}"


def test_hardware_without_a_removal_time_names_none() -> None:
    soon = replace(SORE, today=OPERATED + timedelta(days=8))
    assert sentence(soon, because="Symptomatic hardware", union=None, union_on=None) == (
        "Symptomatic hardware; 1 week since surgery; no film judged for union yet."
    )


def test_the_same_words_of_the_same_source_are_one_fact() -> None:
    assert fact_of("patient", "The plate  rubs ") == fact_of("patient", "the plate rubs")
    assert fact_of("patient", "it rubs") != fact_of("film", "it rubs")
    assert len(fact_of("patient", "ow " * 200)) <= 160


def test_every_loudness_has_its_word() -> None:
    assert set(LOUDNESS_WORDS) == set(Loudness)
