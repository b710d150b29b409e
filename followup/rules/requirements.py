"""Data decide, not clicks: what a step asks for against what is there."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

from followup.rules.scores.catalogue import INSTRUMENTS


@dataclass(frozen=True)
class Wanted:
    """What a step is to collect; views and instruments by code."""

    film_views: tuple[str, ...] = ()
    motion: bool = False
    scores: tuple[str, ...] = ()
    wound_check: bool = False
    complication_screen: bool = False


class Step(Protocol):
    """What of a protocol's step says what is to be collected."""

    film_views: Iterable[str]
    motion: bool
    scores: Iterable[str]
    wound_check: bool
    complication_screen: bool


def wanted_of(step: Step) -> Wanted:
    """Return what a step asks for."""
    return Wanted(
        film_views=tuple(step.film_views),
        motion=step.motion,
        scores=tuple(step.scores),
        wound_check=step.wound_check,
        complication_screen=step.complication_screen,
    )


@dataclass(frozen=True)
class Present:
    """What was collected inside the window of a step."""

    film_views: frozenset[str] = frozenset()
    motion: bool = False
    scores: frozenset[str] = frozenset()
    asked: frozenset[str] = frozenset()


WOUND, SCREEN = "wound_check", "complication_screen"
# What is asked or looked at during a visit and leaves no row of its own.
ASKED = (WOUND, SCREEN)
ITEM_WORDS = {
    "motion": "motion",
    "wound_check": "wound check",
    "complication_screen": "complications asked for",
    "score:pain_nrs": "pain score",
}


def asked_of(recorded: Iterable[str], *, told: bool) -> frozenset[str]:
    """Return what was asked or looked at: as recorded, and whoever told of a complication was asked."""
    return frozenset(recorded) | (frozenset({SCREEN}) if told else frozenset())


def items(wanted: Wanted) -> tuple[str, ...]:
    """Return a key for everything that a step asks for: 'film:zanca', 'motion', 'score:pain_nrs'."""
    flags = [
        name for name in ("motion", "wound_check", "complication_screen") if getattr(wanted, name)
    ]
    films = [f"film:{view}" for view in wanted.film_views]
    return (*films, *flags, *(f"score:{code}" for code in wanted.scores))


def still_missing(
    wanted: Wanted, present: Present, not_obtainable: Mapping[str, str]
) -> tuple[str, ...]:
    """Return the items that are neither present nor marked not obtainable with a reason."""
    return tuple(
        item
        for item in items(wanted)
        if not _is_present(item, present) and not not_obtainable.get(item, "").strip()
    )


def words(item: str) -> str:
    """Write an item the way a person says it."""
    kind, _, code = item.partition(":")
    if item in ITEM_WORDS:
        return ITEM_WORDS[item]
    if kind == "film":
        return f"{code.upper() if code == 'ap' else code.title()} film"
    return INSTRUMENTS[code].name if code in INSTRUMENTS else code.replace("_", " ")


def _is_present(item: str, present: Present) -> bool:
    kind, _, code = item.partition(":")
    if kind == "film":
        return code in present.film_views
    if kind == "score":
        return code in present.scores
    return present.motion if kind == "motion" else item in present.asked
