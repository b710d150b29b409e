"""Whether a part is one that a notice or a search is about: surely, perhaps, or not to be excluded."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from registry.rules import batches

PLAIN = ("same", "missing")
NEAR_WORDS = {
    **batches.NEAR_WORDS,
    "half": "one number of the article is the same, the other is not",
    "joined": "the article is listed with that device identifier besides its own",
}


class Certainty(StrEnum):
    """How sure it is that a part is meant."""

    CERTAIN = "certain"
    NEAR = "near"
    NOT_EXCLUDED = "not_excluded"


@dataclass(frozen=True)
class Scope:
    """What is looked for: whatever is given has to fit; the two numbers name one article."""

    device_identifier: str = ""
    catalogue_number: str = ""
    batch: batches.Span | None = None
    serial: batches.Span | None = None
    expires: tuple[date, date] | None = None

    @property
    def names_article(self) -> bool:
        """Say whether an article is named."""
        return bool(self.device_identifier or self.catalogue_number)

    @property
    def is_empty(self) -> bool:
        """Say whether nothing at all is looked for."""
        return not (self.names_article or self.batch or self.serial or self.expires)


@dataclass(frozen=True)
class PartFacts:
    """What is recorded of one part; what is not is empty."""

    device_identifier: str = ""
    catalogue_number: str = ""
    batch: str = ""
    serial: str = ""
    expires_on: date | None = None
    # Of the same article, as the list of articles has it.
    other_identifiers: tuple[str, ...] = ()


@dataclass(frozen=True)
class Match:
    """That a part is meant, how surely, and why in words."""

    certainty: Certainty
    words: str


def article_key(identifier: str) -> str:
    """Return an article's number for comparing: folded, and without zeros at the front.

    A trade item number of 12 or 13 digits is the same article as the one of 14 that begins with
    zeros (GS1 General Specifications, from memory).
    """
    return batches.folded(identifier).lstrip("0")


def match(scope: Scope, part: PartFacts) -> Match | None:
    """Hold a part against what is looked for; None where it cannot be it."""
    said = {
        "article": _article(scope, part),
        "batch": _number(scope.batch, part.batch),
        "serial": _number(scope.serial, part.serial),
        "expiry": _expiry(scope, part),
    }
    asked = {name: one for name, one in said.items() if one}
    if not asked or "other" in asked.values():
        return None
    certainty = judge({name: one if one in PLAIN else "near" for name, one in asked.items()})
    return None if certainty is None else Match(certainty, _words(asked))


def judge(said: Mapping[str, str]) -> Certainty | None:
    """Say how sure it is, from what was found of each thing asked for: same, near or missing.

    All the same is certain. What is not recorded cannot be excluded where the article is the same.
    Where the article is not asked for, or not recorded, a batch or a serial has to speak for it.
    """
    if all(one == "same" for one in said.values()):
        return Certainty.CERTAIN
    if said.get("article", "missing") == "missing":
        speaks = any(said.get(name, "missing") != "missing" for name in ("batch", "serial"))
        return Certainty.NEAR if speaks else None
    if "near" in said.values() or said.get("serial") == "same":
        return Certainty.NEAR
    return Certainty.NOT_EXCLUDED


def _words(asked: Mapping[str, str]) -> str:
    near = [NEAR_WORDS[one] for one in asked.values() if one not in PLAIN]
    missing = [f"{name} not recorded" for name, one in asked.items() if one == "missing"]
    same = [name for name, one in asked.items() if one == "same"]
    return "; ".join(
        [*near, *missing, f"the same {' and '.join(same)}"] if same else near + missing
    )


def _article(scope: Scope, part: PartFacts) -> str:
    asked = (article_key(scope.device_identifier), article_key(scope.catalogue_number))
    has = (article_key(part.device_identifier), article_key(part.catalogue_number))
    if not any(asked):
        return ""
    same = [one == other for one, other in zip(asked, has, strict=True) if one and other]
    if same and all(same):
        return "same"
    if any(same):
        return "half"
    if asked[0] and asked[0] in map(article_key, part.other_identifiers):
        return "joined"
    return "other" if same else "missing"


def _number(wanted: batches.Span | None, found: str) -> str:
    if wanted is None:
        return ""
    if not batches.folded(found):
        return "missing"
    if batches.holds(wanted, found):
        return "same"
    return batches.nearness(wanted, found) or "other"


def _expiry(scope: Scope, part: PartFacts) -> str:
    if scope.expires is None:
        return ""
    if part.expires_on is None:
        return "missing"
    first, last = scope.expires
    return "same" if first <= part.expires_on <= last else "other"
