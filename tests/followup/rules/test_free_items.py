"""What a service asks for in its own words."""

from typing import Any

import pytest

from followup.rules.free_items import check, read, written

TWO = [
    {"code": "sling", "words": "sling worn as agreed"},
    {"code": "back-at-work", "words": "back at work: which?"},
]


def test_items_are_written_one_on_a_line() -> None:
    text = " Sling : sling worn as agreed\n\nback-at-work: back at work: which?"
    assert read(text) == TWO
    assert read(written(TWO)) == TWO
    assert read(" \n") == []


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("sling worn", "'sling worn' has no colon"),
        ("two words: yes", "'two words' cannot be the code"),
        (f"{'a' * 21}: yes", "up to 20 small letters"),
        (": yes", "'' cannot be the code"),
        ("sling:", "'sling' needs words"),
        (f"sling: {'a' * 81}", "up to 80 characters"),
        ("sling: a\nSLING: b", "two free items have the code 'sling'"),
        ("\n".join(f"a{n}: b" for n in range(13)), "13 free items are too many"),
    ],
)
def test_what_cannot_be_read_says_why(text: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        read(text)


@pytest.mark.parametrize("row", [{"code": "a"}, {"code": "a", "words": "b", "more": "c"}])
def test_an_item_is_a_code_and_words(row: Any) -> None:
    with pytest.raises(ValueError, match="and nothing else"):
        check([row])
