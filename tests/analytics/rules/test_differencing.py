"""Whether what left the team gives a few people away by subtraction: against a search over all sums."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.rules.differencing import Population, gives_away, is_few


def people(*spans: tuple[int, int]) -> Population:
    return frozenset(f"p{n}" for begins, ends in spans for n in range(begins, ends))


@pytest.mark.parametrize(
    ("mine", "earlier", "gives"),
    [
        (people((0, 30)), [], False),
        (people((0, 30)), [people((0, 30))], False),
        (people((0, 30)), [people((0, 23))], True),
        (people((0, 30)), [people((0, 22))], False),
        (people((0, 23)), [people((0, 30))], True),
        # Some left and others came, together too few.
        (people((3, 33)), [people((0, 30))], True),
        (people((4, 34)), [people((0, 30))], False),
        # Two parts leave a few of the whole.
        (people((0, 40)), [people((0, 20)), people((20, 35))], True),
        (people((0, 15)), [people((0, 40)), people((20, 40))], True),
        (people((0, 40)), [people((0, 20)), people((20, 40))], False),
        (people((0, 40)), [people((0, 20)), people((15, 35))], False),
    ],
)
def test_a_few_are_given_away_by_one_table_less_another(
    mine: Population, earlier: list[Population], gives: bool
) -> None:
    assert gives_away(mine, earlier) is gives


@given(
    st.lists(st.frozensets(st.integers(0, 40).map(str), min_size=8), min_size=1, max_size=5),
)
def test_it_is_what_a_search_over_pairs_and_threes_finds(sets: list[Population]) -> None:
    mine, *earlier = sets
    found = any(is_few(len(mine ^ one)) for one in earlier)
    for one, two in combinations(earlier, 2):
        for whole, first, second in ((mine, one, two), (one, mine, two), (two, mine, one)):
            inside = first < whole and second < whole and not first & second
            found = found or (inside and is_few(len(whole - first - second)))
    assert gives_away(mine, earlier) is found


def test_one_to_seven_are_a_few() -> None:
    assert [number for number in range(10) if is_few(number)] == [1, 2, 3, 4, 5, 6, 7]
