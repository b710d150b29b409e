from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import IllegalTransition
from registry.models.safety_notices import CarrierState, CarrierStepKind
from registry.rules import notice_states as states


def test_the_states_and_steps_are_those_that_rows_can_hold() -> None:
    assert set(states.STATES) == set(CarrierState.values)
    assert set(states.STEPS) | {"found", "more_sure"} == set(CarrierStepKind.values)


@pytest.mark.parametrize(
    ("known", "state"),
    [
        ({"certain": True, "removed": False, "died": False}, "to_reach"),
        ({"certain": True, "removed": True, "died": True}, "removed"),
        ({"certain": True, "removed": False, "died": True}, "died"),
        ({"certain": False, "removed": True, "died": True}, "undecided"),
    ],
)
def test_a_carrier_is_found_as_the_records_have_it(known: dict[str, bool], state: str) -> None:
    assert states.first(**known) == state


@pytest.mark.parametrize(
    "steps",
    [
        ("to_reach", "reached", "reviewed"),
        ("to_reach", "reached", "removed"),
        ("to_reach", "unreachable", "reached", "declined", "reviewed"),
        ("to_reach", "died", "opened_again", "unreachable"),
        ("undecided", "is_none", "decide_again", "is_one", "reached"),
        ("undecided", "is_one", "decide_again"),
    ],
)
def test_a_course_goes_step_by_step(steps: tuple[str, ...]) -> None:
    state = steps[0]
    for name in steps[1:]:
        state = states.STEPS[name](state)
    assert state in states.STATES


@pytest.mark.parametrize(
    ("state", "step"),
    [
        ("to_reach", "is_one"),
        ("undecided", "reached"),
        ("not_one", "reached"),
        ("died", "reached"),
        ("reviewed", "unreachable"),
        ("to_reach", "opened_again"),
        ("reached", "is_none"),
    ],
)
def test_a_step_that_cannot_follow_names_both_states(state: str, step: str) -> None:
    with pytest.raises(IllegalTransition, match="cannot become"):
        states.STEPS[step](state)


def test_who_surely_carries_it_is_never_decided_about() -> None:
    for state in states.STATES:
        assert not {"is_one", "is_none", "decide_again"} & set(states.possible(state, certain=True))


@given(st.lists(st.sampled_from(sorted(states.STEPS)), max_size=30), st.booleans())
def test_every_end_can_be_left_again_and_nothing_leads_out_of_the_states(
    names: list[str], certain: bool
) -> None:
    course = [states.first(certain=certain, removed=False, died=False)]
    for name in names:
        if name in states.possible(course[-1], certain=certain):
            course.append(states.STEPS[name](course[-1]))
    assert set(course) <= set(states.STATES)
    assert all(one != other for one, other in pairwise(course))
    assert all(states.possible(state, certain=certain) for state in course)
