"""Data decide, not clicks: what a step asks for against what is there."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from followup.rules.scores.catalogue import INSTRUMENTS

INJURED, OTHER, BOTH = "injured", "other", "both"
SIDES = (INJURED, OTHER, BOTH)


@dataclass(frozen=True)
class Wanted:
    """What a step is to collect; views and instruments by code, free items with their words.

    `film_views` are those of the injured side, `other_side_views` those of the other; a view of both
    sides is in both.
    """

    film_views: tuple[str, ...] = ()
    other_side_views: tuple[str, ...] = ()
    motion: bool = False
    scores: tuple[str, ...] = ()
    wound_check: bool = False
    complication_screen: bool = False
    free_items: Mapping[str, str] = field(default_factory=dict)


class Step(Protocol):
    """What of a protocol's step says what is to be collected."""

    @property
    def film_views(self) -> Iterable[str]: ...
    @property
    def film_sides(self) -> Mapping[str, str]: ...
    @property
    def motion(self) -> bool: ...
    @property
    def scores(self) -> Iterable[str]: ...
    @property
    def wound_check(self) -> bool: ...
    @property
    def complication_screen(self) -> bool: ...
    @property
    def free_items(self) -> Iterable[Mapping[str, str]]: ...


def wanted_of(step: Step) -> Wanted:
    """Return what a step asks for."""
    sides = {view: step.film_sides.get(view, INJURED) for view in step.film_views}
    return Wanted(
        film_views=tuple(view for view, side in sides.items() if side != OTHER),
        other_side_views=tuple(view for view, side in sides.items() if side != INJURED),
        motion=step.motion,
        scores=tuple(step.scores),
        wound_check=step.wound_check,
        complication_screen=step.complication_screen,
        free_items={one["code"]: one["words"] for one in step.free_items},
    )


@dataclass(frozen=True)
class Present:
    """What was collected inside the window of a step; `other_side_views` show both sides."""

    film_views: frozenset[str] = frozenset()
    motion: bool = False
    scores: frozenset[str] = frozenset()
    asked: frozenset[str] = frozenset()
    other_side_views: frozenset[str] = frozenset()


WOUND, SCREEN, HARDWARE = "wound_check", "complication_screen", "hardware_check"
# What is asked or looked at during a visit and leaves no row of its own; no step asks for the last.
ASKED = (WOUND, SCREEN, HARDWARE)
ITEM_WORDS = {
    "motion": "motion",
    "wound_check": "wound check",
    "complication_screen": "complications asked for",
    "hardware_check": "hardware asked about",
    "score:pain_nrs": "pain score",
}


def asked_of(recorded: Iterable[str], *, told: bool) -> frozenset[str]:
    """Return what was asked or looked at: as recorded, and whoever told of a complication was asked."""
    return frozenset(recorded) | (frozenset({SCREEN}) if told else frozenset())


def items(wanted: Wanted) -> tuple[str, ...]:
    """Return a key for everything that a step asks for: 'film:zanca', 'motion', 'score:pain_nrs'.

    'film_other:zanca' is the other side on that view, 'free:sling' an item of the service's own.
    """
    flags = [
        name for name in ("motion", "wound_check", "complication_screen") if getattr(wanted, name)
    ]
    films = [f"film:{view}" for view in wanted.film_views]
    films += [f"film_other:{view}" for view in wanted.other_side_views]
    free = [free_item(code) for code in wanted.free_items]
    return (*films, *flags, *(f"score:{code}" for code in wanted.scores), *free)


def free_item(code: str) -> str:
    """Return the key of a free item, under which it is asked or not obtainable."""
    return f"free:{code}"


def still_missing(
    wanted: Wanted, present: Present, not_obtainable: Mapping[str, str]
) -> tuple[str, ...]:
    """Return the items that are neither present nor marked not obtainable with a reason.

    A film that cannot be had cannot show the other side either.
    """
    excused = {item for item, reason in not_obtainable.items() if reason.strip()}
    excused |= {item.replace("film:", "film_other:", 1) for item in excused}
    return tuple(
        item for item in items(wanted) if item not in excused and not _is_present(item, present)
    )


def words(item: str, free_items: Mapping[str, str] | None = None) -> str:
    """Write an item the way a person says it; free items say what their step lets them say."""
    kind, _, code = item.partition(":")
    if item in ITEM_WORDS:
        return ITEM_WORDS[item]
    if kind == "free":
        return (free_items or {}).get(code, code.replace("-", " "))
    if kind in ("film", "film_other"):
        film = f"{code.upper() if code == 'ap' else code.title()} film"
        return film if kind == "film" else f"{film} of the other side"
    return INSTRUMENTS[code].name if code in INSTRUMENTS else code.replace("_", " ")


def listed(keys: Iterable[str], free_items: Mapping[str, str] | None = None) -> list[str]:
    """Write items in their order; a film that both sides are wanted of is said once."""
    named = list(keys)
    both = {key for key in named if key.replace("film:", "film_other:", 1) in named}
    both -= {key for key in named if not key.startswith("film:")}
    return [
        f"{words(key, free_items)} of both sides" if key in both else words(key, free_items)
        for key in named
        if key.replace("film_other:", "film:", 1) not in both or key in both
    ]


def _is_present(item: str, present: Present) -> bool:
    kind, _, code = item.partition(":")
    if kind == "film":
        return code in present.film_views
    if kind == "film_other":
        return code in present.other_side_views
    if kind == "score":
        return code in present.scores
    return present.motion if kind == "motion" else item in present.asked
