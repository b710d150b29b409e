"""What an implant's label says, whoever issued its identifier, and how two symbols make one label."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

MOST_CHARACTERS = 400


class Issuer(StrEnum):
    """Who issues the identifiers of a label."""

    GS1 = "gs1"
    HIBC = "hibc"
    ICCBBA = "iccbba"


class LabelRefused(ValueError):
    """A text that is no label, or a damaged one; says what is wrong and what to do."""


@dataclass(frozen=True)
class Label:
    """A label as it was read. `doubts` are looked at by a person before anything is kept.

    `others` are further data by the code that the standard gives them. A label of production data
    alone, as a second symbol has it, has no `device_identifier`. `readings` are other ways to read
    the same text where it does not say which is meant. `link` is the character by which an HIBC
    symbol points to its primary one.
    """

    raw: str
    issuer: Issuer
    device_identifier: str = ""
    catalogue_number: str = ""
    made_on: date | None = None
    expires_on: date | None = None
    batch: str = ""
    serial: str = ""
    quantity: int | None = None
    others: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    link: str = ""
    readings: tuple["Label", ...] = field(default=(), compare=False)

    @property
    def is_certain(self) -> bool:
        """Whether the text can be read in one way only."""
        return not self.doubts

    @property
    def is_whole(self) -> bool:
        """Whether the label names its article."""
        return bool(self.device_identifier)

    @property
    def says_production(self) -> bool:
        """Whether the label says which piece of its article this is."""
        return bool(self.batch or self.serial or self.expires_on or self.made_on)


SAME_ARTICLE = "Two symbols name the same article, and were taken for one label of one piece."
# What a second symbol may add, and what it is called.
JOINED = {
    "batch": "batch",
    "serial": "serial number",
    "expires_on": "expiry",
    "made_on": "day of manufacture",
    "catalogue_number": "catalogue number",
    "quantity": "quantity",
}


def reading(label: Label, number: int) -> Label:
    """Return one of the ways to read a label: 0 is the plain one, then `readings` in their order.

    A chosen reading was looked at by somebody, so the doubt between the readings is gone with it.
    Raises LabelRefused for a number that it does not have.
    """
    if number == 0:
        return label
    if not 0 < number <= len(label.readings):
        raise LabelRefused(f"This label has no reading number {number}; scan it again.")
    return label.readings[number - 1]


def belong_together(first: Label, second: Label) -> bool:
    """Say whether two symbols can be the two halves of one label.

    One names the article and the other does not, of the same issuer, and neither contradicts the
    other; an HIBC symbol of production data points to its primary one by the link character. Where
    both name the same article, one of them says nothing else.
    """
    if first.issuer != second.issuer or not (first.is_whole or second.is_whole):
        return False
    if first.is_whole and second.is_whole:
        same = first.device_identifier == second.device_identifier
        return same and first.says_production != second.says_production
    if first.issuer == Issuer.HIBC and first.link != second.link:
        return False
    return not any(
        getattr(first, name) and getattr(second, name) and name != "catalogue_number"
        for name in JOINED
    )


def joined(first: Label, second: Label) -> Label:
    """Return one label of two symbols that belong together; the raw texts stand in two lines."""
    main, more = (first, second) if first.is_whole else (second, first)
    both = (SAME_ARTICLE,) if first.is_whole and second.is_whole else ()
    added = {name: getattr(main, name) or getattr(more, name) for name in JOINED}
    return replace(
        main,
        raw=f"{main.raw}\n{more.raw}",
        others=main.others + more.others,
        notes=tuple(dict.fromkeys(main.notes + more.notes + both)),
        doubts=tuple(dict.fromkeys(main.doubts + more.doubts)),
        readings=tuple(joined(main, one) for one in more.readings)
        + tuple(joined(one, more) for one in main.readings),
        **added,
    )


def half_refused(label: Label) -> LabelRefused:
    """Return the refusal of a label that never names its article."""
    said = label.batch or label.serial or label.raw
    link = f" whose check character is {label.link!r}" if label.link else ""
    return LabelRefused(
        f"'{said}' names no article: this is the second symbol of a label. "
        f"Scan the one with the article number beside it{link} as well."
    )


def gathered(labels: Iterable[Label]) -> list[Label]:
    """Join the symbols that belong together, in the order in which they were scanned.

    A second symbol goes to the nearest label before it that lacks what it says, or waits for the
    next one. What finds no partner stays as it is.
    """
    found: list[Label] = []
    for label in labels:
        place = _partner(found, label)
        if place is None:
            found.append(label)
        else:
            found[place] = joined(found[place], label)
    return found


def _partner(found: list[Label], label: Label) -> int | None:
    for place in range(len(found) - 1, -1, -1):
        if belong_together(found[place], label):
            return place
    return None


# Digits of the lengths that a global trade item number has.
ARTICLE_LENGTHS = (8, 12, 13, 14)


def check_digit(body: str) -> int:
    """Return the check digit of a global trade item number without it.

    References: GS1 General Specifications, check digit: weights 3, 1, 3... from the right, modulo 10.
    """
    total = sum(int(digit) * (3, 1)[place % 2] for place, digit in enumerate(reversed(body)))
    return -total % 10


def article_number(digits: str) -> str:
    """Return a global trade item number with 14 digits.

    Raises LabelRefused when its check digit is wrong.
    """
    wanted = check_digit(digits[:-1])
    if int(digits[-1]) != wanted:
        raise LabelRefused(
            f"The article number {digits} ends in {digits[-1]}, but its check digit is {wanted}: "
            "it was misread or mistyped. Scan the label again."
        )
    return digits.zfill(14)


def plain_identifier(text: str) -> str:
    """Return a device identifier as it is kept, typed or scanned: article numbers have 14 digits.

    Raises LabelRefused when it is an article number with a wrong check digit.
    """
    given = "".join(text.split())
    if given.isdecimal() and given.isascii() and len(given) in ARTICLE_LENGTHS:
        return article_number(given)
    return given.removeprefix("+").upper()
