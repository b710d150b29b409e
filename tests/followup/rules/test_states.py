from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules import states
from registry.errors import IllegalTransition

LEGAL: dict[Callable[[str], str], tuple[str, set[str]]] = {
    states.book: ("booked", {"planned", "booked", "missed"}),
    states.unbook: ("planned", {"booked"}),
    states.attend: ("attended", {"planned", "booked", "missed", "lapsed", "attended"}),
    states.miss: ("missed", {"booked"}),
    states.lapse: ("lapsed", {"planned", "booked", "missed"}),
    states.end: ("not_needed", {"planned", "booked", "missed"}),
    states.close: ("not_needed", {"planned", "booked", "missed", "lapsed", "not_needed"}),
    states.reopen: ("planned", {"not_needed", "lapsed"}),
}
EVERY = sorted(states.WORDS)


@pytest.mark.parametrize(
    ("act", "present"),
    [(act, present) for act, (_, allowed) in LEGAL.items() for present in sorted(allowed)],
    ids=lambda one: getattr(one, "__name__", one),
)
def test_a_legal_step_is_taken(act: Callable[[str], str], present: str) -> None:
    assert act(present) == LEGAL[act][0]


@pytest.mark.parametrize(
    ("act", "present"),
    [
        (act, present)
        for act, (_, allowed) in LEGAL.items()
        for present in EVERY
        if present not in allowed
    ],
    ids=lambda one: getattr(one, "__name__", one),
)
def test_an_illegal_step_names_both_states(act: Callable[[str], str], present: str) -> None:
    with pytest.raises(IllegalTransition) as refused:
        act(present)
    wanted = LEGAL[act][0]
    assert str(refused.value) == (
        f"The review is '{states.WORDS[present]}' and cannot become '{states.WORDS[wanted]}'."
    )


def test_an_attended_review_never_changes_again() -> None:
    leaving = [act for act, (wanted, allowed) in LEGAL.items() if "attended" in allowed]
    assert leaving == [states.attend]


def test_a_day_whose_parts_add_up_has_no_difference() -> None:
    counts = {
        "all": 20,
        "done_in_window": 6,
        "done_outside": 1,
        "missed": 1,
        "lapsed": 2,
        "not_needed": 1,
        "death": 1,
        "withdrawal": 1,
        "moved": 1,
        "revision": 1,
        "removal": 1,
        "open": 4,
    }
    assert states.daily_sum(counts) == (20, 0)


def test_what_vanished_and_what_was_counted_twice_show_as_a_difference() -> None:
    assert states.daily_sum({"all": 5, "open": 3}) == (3, 2)
    assert states.daily_sum({"all": 5, "open": 3, "missed": 3}) == (6, -1)


@given(
    parts=st.dictionaries(
        st.sampled_from(["done_in_window", "lapsed", "not_needed", "open", *states.CLOSED_BY]),
        st.integers(0, 10**6),
    )
)
def test_the_accounted_are_the_sum_of_the_parts(parts: dict[str, int]) -> None:
    assert states.daily_sum({**parts, "all": sum(parts.values())}) == (sum(parts.values()), 0)
