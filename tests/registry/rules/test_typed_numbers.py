"""What somebody sends for a whole number."""

import pytest

from registry.rules.typed_numbers import whole_number


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("7", 7),
        ("007", 7),
        ("999999999", 999_999_999),
        ("1000000000", None),
        ("\u00b2", None),
        ("\u0667", None),
        ("", None),
        ("-1", None),
        ("1.0", None),
        ("9" * 5000, None),
    ],
)
def test_plain_digits_are_a_number_and_nothing_else_is(text: str, number: int | None) -> None:
    assert whole_number(text) == number
