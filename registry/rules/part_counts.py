"""What the parts of a construct come to, and where that is not what was typed.

A typed count is what the surgeon says, and stays. The parts stand in where nothing was typed, and
where both are there and differ, that is shown for a person to put right. Screws of 2.3 mm and less
are the lateral ones, where the articles say their diameter; common practice, no source.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from registry.rules.construct_checks import SMALL_SCREW_MM

WORDS = {
    "plate_holes": ("plate hole", "plate holes"),
    "lateral_screw_count": ("lateral screw", "lateral screws"),
    "shaft_screw_count": ("shaft screw", "shaft screws"),
    "anchor_count": ("anchor", "anchors"),
    "button_count": ("button", "buttons"),
    "retainer_count": ("retainer", "retainers"),
}
OF_KIND = {"anchor": "anchor_count", "button": "button_count", "retainer": "retainer_count"}
SCREWS = ("lateral_screw_count", "shaft_screw_count")


@dataclass(frozen=True)
class Piece:
    """One line of parts: what it is, how many, and what its article brings."""

    kind: str
    quantity: int
    plate_holes: int | None = None
    screw_diameter_mm: float | None = None


@dataclass(frozen=True)
class Disagreement:
    """A count that the parts do not bear out; `typed` and `counted` are how many."""

    name: str
    typed: int
    counted: int

    @property
    def words(self) -> str:
        """Return the disagreement as a sentence's part: '2 anchors typed, 1 among the parts'."""
        one, many = WORDS.get(self.name, ("screw", "screws"))
        return (
            f"{self.typed} {one if self.typed == 1 else many} typed, {self.counted} among the parts"
        )


def counted(pieces: Iterable[Piece]) -> dict[str, int]:
    """Return the counts that the parts come to; what no part says is left out.

    Screws stand under `screw_count`, and by their place as well where every one says its diameter.
    """
    found: dict[str, int] = {}
    screws = []
    for piece in pieces:
        if piece.kind == "screw":
            screws.append(piece)
        elif piece.kind == "plate" and piece.plate_holes is not None:
            found["plate_holes"] = found.get("plate_holes", 0) + piece.plate_holes * piece.quantity
        elif piece.kind in OF_KIND:
            name = OF_KIND[piece.kind]
            found[name] = found.get(name, 0) + piece.quantity
    if screws:
        found |= _screws(screws)
    return found


def _screws(screws: list[Piece]) -> dict[str, int]:
    found = {"screw_count": sum(one.quantity for one in screws)}
    sizes = [(one.screw_diameter_mm, one.quantity) for one in screws]
    if all(size is not None for size, _ in sizes):
        small = sum(n for size, n in sizes if size is not None and size <= SMALL_SCREW_MM)
        found |= {"lateral_screw_count": small, "shaft_screw_count": found["screw_count"] - small}
    return found


def disagreements(
    typed: Mapping[str, int | None], pieces: Iterable[Piece]
) -> tuple[Disagreement, ...]:
    """Return each count that was typed otherwise than the parts come to, in the order of WORDS."""
    found = counted(pieces)
    named = [
        Disagreement(name, given, found[name])
        for name in WORDS
        if name in found
        if (given := typed.get(name)) is not None
        if given != found[name]
    ]
    by_place = all(name in found for name in SCREWS)
    both = [typed.get(name) for name in SCREWS]
    total = sum(one for one in both if one is not None)
    all_typed = all(one is not None for one in both)
    if "screw_count" in found and not by_place and all_typed and total != found["screw_count"]:
        named.append(Disagreement("screw_count", total, found["screw_count"]))
    return tuple(named)
