"""Could two entries be the same person? Weights of agreement after Fellegi and Sunter (1969)."""

import unicodedata
from dataclasses import dataclass
from datetime import date
from math import log2

# (m, u): the chance of agreement in true pairs and by accident; from memory, our own set.
CHANCES = {
    "family_name": (0.95, 0.001),
    "given_name": (0.92, 0.01),
    "birth_date": (0.98, 1 / 25000),
    "sex": (0.99, 0.5),
    "phone": (0.85, 0.0005),
}
SAME, REVIEW = 30.0, 10.0
# Letters that do not come apart into a plain one and its accent.
PLAIN_LETTERS = str.maketrans(
    {
        "\u00e6": "ae",
        "\u0153": "oe",
        "\u00f8": "o",
        "\u0142": "l",
        "\u0111": "d",
        "\u00f0": "d",
        "\u00fe": "th",
        "\u0131": "i",
    }
)


@dataclass(frozen=True)
class Person:
    """What is compared; an empty value is not compared."""

    family_name: str
    given_name: str
    birth_date: date | None = None
    sex: str = ""
    phone: str = ""


@dataclass(frozen=True)
class Match:
    """The summed weight and its verdict: same, review or different."""

    weight: float
    verdict: str


def plain(name: str) -> str:
    """Fold accents, case, hyphens and spaces away; letters of every script stay."""
    folded = unicodedata.normalize("NFKD", name.casefold().translate(PLAIN_LETTERS))
    return "".join(letter for letter in folded if letter.isalnum())


def compare(one: Person, other: Person) -> Match:
    """Weigh two entries; swapped names count as agreeing, a mistyped birth date as half so.

    Where either was needed a person has to look: the verdict is then review at the most.
    """
    names = (plain(one.family_name), plain(one.given_name))
    others = (plain(other.family_name), plain(other.given_name))
    swapped = names != others and names == others[::-1]
    if swapped:
        others = names
    weight = _weight("family_name", names[0] == others[0])
    weight += _weight("given_name", names[1] == others[1])
    certain = not swapped
    if one.birth_date and other.birth_date:
        weight += _birth_weight(one.birth_date, other.birth_date)
        certain = certain and one.birth_date == other.birth_date
    for field in ("sex", "phone"):
        mine, theirs = getattr(one, field), getattr(other, field)
        if mine and theirs and "unknown" not in (mine, theirs):
            weight += _weight(field, plain(mine) == plain(theirs))
    if weight < REVIEW:
        return Match(round(weight, 2), "different")
    return Match(round(weight, 2), "same" if weight >= SAME and certain else "review")


def _weight(field: str, agrees: bool) -> float:
    true, accident = CHANCES[field]
    return log2(true / accident) if agrees else log2((1 - true) / (1 - accident))


def _birth_weight(one: date, other: date) -> float:
    if one == other:
        return _weight("birth_date", True)
    transposed = one.year == other.year and (one.day, one.month) == (other.month, other.day)
    one_slip = sum(a != b for a, b in zip(one.isoformat(), other.isoformat(), strict=True)) == 1
    if transposed or one_slip:
        return _weight("birth_date", True) / 2
    return _weight("birth_date", False)
