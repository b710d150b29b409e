"""Whole numbers as somebody typed or sent them."""

# As many as the largest whole number of a column has.
MOST_DIGITS = 9


def whole_number(text: str) -> int | None:
    """Return the number that some plain digits say, None for anything else or for too many of them."""
    plain = text.isascii() and text.isdigit() and len(text) <= MOST_DIGITS
    return int(text) if plain else None
