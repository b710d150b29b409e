"""Batch and serial numbers as people type them: what is the same, what may be, what lies in a range.

Two numbers are the same when they differ in capitals, spaces and hyphens alone. A number has a
beginning and, where it ends in digits, a number at its end; a range holds what has the same beginning
and, at the end, a number between the two, leading zeros aside. What is near is never the same: a
person decides about it. The kinds of nearness are common practice, no source.
"""

import re
from dataclasses import dataclass

LEFT_OUT = " \t\u00a0-\u2010\u2011\u2013"
# Taken for each other by eyes and by old printers.
LOOK_ALIKES = ("OIL", "011")
PLACES = 40
DIGITS = "0123456789"
CAPITALS = str.maketrans("abcdefghijklmnopqrstuvwxyz", "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
# What follows a batch on a label when the separator between them is gone: a serial number, a date,
# a count, a further number of the article, or the label from its start.
FOLLOWS = r"(21.+|1[1-7][0-9]{6}.*|30[0-9]+|240.+|01[0-9]{14}.*)"
# What stands before a batch when the whole label was typed as one.
GOES_BEFORE = r"01[0-9]{14}(1[1-7][0-9]{6}|30[0-9]{1,8})*10"
LABEL_STARTS = ("01", "02")

NEAR_WORDS = {
    "separator": "the batch and what follows it on the label run together",
    "label": "the whole label stands in the field of the batch",
    "alike": "the same but for zeros at the front of its number, or letters that look like digits",
}


@dataclass(frozen=True)
class Span:
    """One number, or the range from one to another with the same beginning."""

    first: str
    last: str

    @property
    def is_one(self) -> bool:
        """Say whether the span is a single number."""
        return folded(self.first) == folded(self.last)

    def __str__(self) -> str:
        """Return the span as people write it."""
        return self.first if self.is_one else f"{self.first} to {self.last}"


def folded(text: str) -> str:
    """Return a number without what does not tell two apart: capitals, spaces, hyphens."""
    kept = "".join(sign for sign in text if sign not in LEFT_OUT)
    return kept.translate(CAPITALS)


def split(text: str) -> tuple[str, str]:
    """Return the beginning of a folded number and the digits at its end."""
    whole = folded(text)
    beginning = whole.rstrip(DIGITS)
    return beginning, whole[len(beginning) :]


def order_key(text: str) -> str:
    """Return what puts numbers in natural order: the beginning, then the number at its end."""
    beginning, digits = split(text)
    # A space comes before every other sign and is in no folded number.
    return f"{beginning} {digits.zfill(PLACES)[-PLACES:]}"


def alike_key(text: str) -> str:
    """Return what numbers share that are taken for each other: by look-alikes or leading zeros."""
    return order_key(folded(text).translate(str.maketrans(*LOOK_ALIKES)))


def span(first: str, last: str = "") -> Span:
    """Return a span; without a last one it is the first alone.

    Raises ValueError, in words for whoever typed it, where two ends make no range.
    """
    one, other = first.strip(), (last or first).strip()
    if not folded(one):
        raise ValueError("Name the first number of the range.")
    if folded(one) == folded(other):
        return Span(one, other)
    (begins, low), (ends, high) = split(one), split(other)
    if not low or not high or begins != ends:
        raise ValueError(
            f"From '{one}' to '{other}' is no range: both have to begin alike and end in a number, "
            "as in LOT42A001 to LOT42A099. Name others one by one."
        )
    if int(low) > int(high):
        raise ValueError(f"'{one}' comes after '{other}'; turn the two round.")
    return Span(one, other)


def holds(wanted: Span, found: str) -> bool:
    """Say whether a number is the one, or lies in the range."""
    if wanted.is_one:
        return bool(folded(found)) and folded(found) == folded(wanted.first)
    key = order_key(found)
    return bool(folded(found)) and order_key(wanted.first) <= key <= order_key(wanted.last)


def nearness(wanted: Span, found: str) -> str:
    """Say how a number that is not it may be it after all: a key of NEAR_WORDS, or nothing."""
    whole = folded(found)
    if not whole or holds(wanted, found):
        return ""
    if alike_key(wanted.first) <= alike_key(found) <= alike_key(wanted.last):
        return "alike"
    if re.search(run_on(wanted), whole):
        return "separator"
    return "label" if re.search(whole_label(wanted), whole) else ""


def run_on(wanted: Span) -> str:
    """Return the pattern of a number with what follows it on a label."""
    return f"^{_core(wanted)}{FOLLOWS}$"


def whole_label(wanted: Span) -> str:
    """Return the pattern of a label that has the number in it; it begins as LABEL_STARTS has it."""
    return f"^{GOES_BEFORE}{_core(wanted)}{FOLLOWS}?$"


def _core(wanted: Span) -> str:
    """Return the pattern of a wanted number where more was typed around it.

    Of a range it is the beginning and as many digits as its ends have, between them in value. The
    pattern is understood by Python and by PostgreSQL alike.
    """
    if wanted.is_one:
        return _plain(folded(wanted.first))
    (begins, low), (_, high) = split(wanted.first), split(wanted.last)
    numbers = [one for start, end in _by_width(low, high) for one in _between(start, end)]
    return f"{_plain(begins)}({'|'.join(numbers)})"


def starts(wanted: Span) -> list[tuple[str, str]]:
    """Return between which texts everything lies that begins with a wanted number, for an index."""
    if wanted.is_one:
        return [_from(folded(wanted.first), folded(wanted.first))]
    (begins, low), (_, high) = split(wanted.first), split(wanted.last)
    return [_from(begins + start, begins + end) for start, end in _by_width(low, high)]


def _from(low: str, high: str) -> tuple[str, str]:
    return low, high + "\U0010ffff"


def _plain(text: str) -> str:
    return re.sub(r"([!-/:-@\[-`{-~])", r"\\\1", text)


def _by_width(low: str, high: str) -> list[tuple[str, str]]:
    """Split a range of digits by how many there are, with the zeros that the lower end begins with."""
    first, last = int(low), int(high)
    found = [(low, str(min(last, 10 ** len(low) - 1)).zfill(len(low)))]
    for width in range(len(low) + 1, len(high) + 1):
        start, end = max(first, 10 ** (width - 1)), min(last, 10**width - 1)
        if start <= end:
            found.append((str(start), str(end)))
    return found


def _between(low: str, high: str) -> list[str]:
    """Return patterns that together match the digits from low to high, both of one length."""
    if not low or low == high:
        return [low]
    if low[0] == high[0]:
        return [low[0] + rest for rest in _between(low[1:], high[1:])]
    rest = len(low) - 1
    found = [low[0] + one for one in _between(low[1:], "9" * rest)]
    if int(low[0]) + 1 < int(high[0]):
        middle = f"[{int(low[0]) + 1}-{int(high[0]) - 1}]"
        found.append(middle + (f"[0-9]{{{rest}}}" if rest else ""))
    return found + [high[0] + one for one in _between("0" * rest, high[1:])]
