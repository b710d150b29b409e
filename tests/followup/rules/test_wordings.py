"""Pasted items are read whole or refused with what is wrong; the words here are invented."""

import pytest

from followup.rules import wordings
from followup.rules.wordings import ItemForm

FORM = ItemForm((1, 2), 0, 2)
GOOD = "1. Lift a cup\nno trouble\nsome\ncannot\n\n2) Reach a shelf"


def test_items_take_the_answers_of_the_item_before_where_they_have_none() -> None:
    first, second = wordings.parse(GOOD, FORM)
    assert (first.number, first.text) == (1, "Lift a cup")
    assert first.choices == ((0, "no trouble"), (1, "some"), (2, "cannot"))
    assert second.text == "Reach a shelf"
    assert second.choices == first.choices


def test_items_come_back_from_a_row_as_they_were() -> None:
    items = wordings.parse(GOOD, FORM)
    assert wordings.restored(wordings.kept(items)) == items


@pytest.mark.parametrize(
    ("pasted", "said"),
    [
        ("Introduction\n" + GOOD, "Line 1 stands before the first item"),
        ("1. Lift a cup\na\nb\n2. Reach", "Item 1 has 2 answers; 3 are needed"),
        ("1. Lift a cup\na\nb\nc", "Not there yet: item 2"),
        (GOOD + "\n2. Again", "Item 2 is there twice"),
        (GOOD + "\n3. More", "There is no item 3; items go from 1 to 2"),
        ("2. Reach\n1. Lift\na\nb\nc", "Item 2 has 0 answers"),
        ("", "Not there yet: item 1, 2"),
    ],
)
def test_what_is_not_whole_is_refused_and_named(pasted: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        wordings.parse(pasted, FORM)


def test_a_row_that_is_no_item_is_refused() -> None:
    with pytest.raises(TypeError, match="choices"):
        wordings.restored([{"number": 1, "text": "x", "choices": "no"}])
