import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.scores.oxford import from_older_items, from_older_total, oxford

Items = dict[int, float]
COMPLETE = st.fixed_dictionaries({n: st.integers(0, 4) for n in range(1, 13)})


def answers(count: int, total: int) -> Items:
    """Return answers 0 to 4 to the first `count` items that add up to `total`."""
    low, extra = divmod(total, count)
    return {number: low + (number <= extra) for number in range(1, count + 1)}


@pytest.mark.parametrize(
    ("items", "expected"),
    [
        # twelve answers that add up to 37
        (answers(12, 37), 37),
        # eleven add up to 33, their mean is 3: 33 + 3
        (answers(11, 33), 36),
        # ten add up to 25, their mean is 2.5: 25 + 2 x 2.5
        (answers(10, 25), 30),
        (dict.fromkeys(range(1, 13), 4), 48),
        (dict.fromkeys(range(1, 13), 0), 0),
    ],
)
def test_the_score_is_the_sum_with_a_missing_answer_at_the_mean(
    items: Items, expected: float
) -> None:
    assert oxford(items).value == pytest.approx(expected)


@pytest.mark.parametrize(
    ("items", "says"),
    [
        (answers(9, 20), "9 of 12 items answered; at least 10 are needed"),
        ({}, "0 of 12 items answered"),
        ({**answers(12, 30), 13: 1}, "there is no item 13; items go from 1 to 12"),
        ({**answers(12, 30), 5: 5}, "item 5 is 5; it goes from 0 to 4"),
    ],
)
def test_what_cannot_be_scored_says_why(items: Items, says: str) -> None:
    result = oxford(items)
    assert result.value is None
    assert says in result.reason


# 60 - 12 = 48, the best of both; 60 - 60 = 0, the worst; 60 - 26 = 34.
@pytest.mark.parametrize(("older", "present"), [(12, 48), (60, 0), (26, 34)])
def test_a_sum_of_the_older_form_is_taken_from_60(older: float, present: float) -> None:
    assert from_older_total(older).value == present


@pytest.mark.parametrize("older", [11, 61, 0, float("nan")])
def test_a_sum_that_the_older_form_cannot_have_gives_no_number(older: float) -> None:
    assert "is outside 12 to 60" in from_older_total(older).reason


def test_answers_of_the_older_form_are_held_to_its_own_range() -> None:
    assert from_older_items(dict.fromkeys(range(1, 13), 1)).value == 48
    refused = from_older_items({**dict.fromkeys(range(1, 13), 1), 2: 0})
    assert refused.reason == "item 2 is 0; it goes from 1 to 5"


@given(items=COMPLETE)
def test_both_forms_of_one_answer_sheet_give_one_score(items: Items) -> None:
    older = {number: 5 - answer for number, answer in items.items()}
    by_items, by_total = from_older_items(older), from_older_total(sum(older.values()))
    assert by_items.value == by_total.value == oxford(items).value


@given(
    items=st.dictionaries(st.integers(1, 12), st.integers(0, 4), min_size=10),
    better=st.integers(1, 12),
)
def test_a_better_answer_never_lowers_the_score(items: Items, better: int) -> None:
    before = oxford(items).value
    after = oxford({**items, better: 4} if better in items else items).value
    assert before is not None
    assert after is not None
    assert 0 <= before <= after <= 48


@given(items=COMPLETE, shuffled=st.permutations(range(1, 13)))
def test_it_does_not_matter_which_item_got_which_answer(items: Items, shuffled: list[int]) -> None:
    moved = {number: items[place] for number, place in zip(range(1, 13), shuffled, strict=True)}
    assert oxford(moved) == oxford(items)
