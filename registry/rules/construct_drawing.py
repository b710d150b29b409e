"""What was implanted as a schematic drawing: kinds and numbers from the record, nothing else.

Where a screw lies, how long it is and which way it points is not recorded, and is not meant by the
drawing. What is not recorded is drawn dashed with a question mark, never left out or guessed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from registry.rules.construct_words import GRAFTS, Built

WIDTH, HEIGHT = 440, 236
# Left shoulders have their outer end on the viewer's right; right shoulders are mirrored.
SHAFT, SLOTS, LATERAL, CORACOID = (74, 178), (198, 234), (254, 302), (212, 258)
PLATES = ("locking_plate", "locking_plate_anchors", "hook_plate")
SCREWS = ("plate_holes", "shaft_screw_count", "lateral_screw_count")
HANGING = ("anchor_count", "free_slots_count", "retainer_count")
# What a construct of a family has: where nobody recorded it, it is unknown and not absent.
EXPECTED = {
    "locking_plate": SCREWS,
    "locking_plate_anchors": (*SCREWS, *HANGING),
    "hook_plate": SCREWS[:2],
    "suspensory": ("button_count",),
}
NOUNS = {
    "plate_holes": ("hole", "holes"),
    "shaft_screw_count": ("shaft screw", "shaft screws"),
    "lateral_screw_count": ("lateral screw", "lateral screws"),
    "free_slots_count": ("free slot", "free slots"),
    "retainer_count": ("suture retainer", "suture retainers"),
    "anchor_count": ("anchor", "anchors"),
    "button_count": ("button", "buttons"),
}
SIZES = {
    "shaft_screw_count": "shaft_screw_diameter_mm",
    "lateral_screw_count": "lateral_screw_diameter_mm",
}
# Where the words of each kind stand, for a left shoulder.
PLACES = {
    "plate_holes": (126, 66),
    "shaft_screw_count": (126, 148),
    "lateral_screw_count": (356, 148),
    "free_slots_count": (216, 50),
    "retainer_count": (216, 32),
    "anchor_count": (334, 190),
    "button_count": (334, 212),
}
Point = tuple[float, float]


class Drawable(Built, Protocol):
    """The facts of a construct that can be drawn; None where nobody knows."""

    free_slots_count: int | None


@dataclass(frozen=True)
class Shape:
    """One outline as SVG takes it, and what it is a picture of: the name of its look."""

    path: str
    look: str


@dataclass(frozen=True)
class Label:
    """Some words in the drawing, centred on a point."""

    x: float
    y: float
    text: str
    is_unknown: bool = False


@dataclass(frozen=True)
class ConstructDrawing:
    """A drawing with its words, which say the same without it."""

    shapes: tuple[Shape, ...]
    labels: tuple[Label, ...]
    words: str
    top: int
    width: int = WIDTH
    foot: int = HEIGHT

    @property
    def height(self) -> int:
        """How high the drawing is from its top."""
        return self.foot - self.top


def drawing(built: Drawable, *, side: str, family: str, fractured: bool) -> ConstructDrawing:
    """Draw what was implanted, seen from the front; `fractured` says that the clavicle was broken.

    Raises ValueError for a side that is neither 'left' nor 'right'.
    """
    if side not in ("left", "right"):
        raise ValueError(f"a side is 'left' or 'right', not '{side}'")
    pencil = _Pencil(mirrored=side == "right")
    counts = _counts(built, family)
    shapes = [*_bones(pencil, fractured), *_graft(pencil, built, family)]
    if has_plate(family, counts):
        shapes += _plate(pencil, hook=family == "hook_plate")
    shapes += _screws(pencil, counts)
    shapes += _hanging(pencil, counts)
    labels = [
        Label(pencil.x(x), y, _said(built, name, counts[name]), counts[name] is None)
        for name, (x, y) in PLACES.items()
        if name in counts
    ]
    ends = (Label(pencil.x(30), 226, "inner end"), Label(pencil.x(402), 226, "outer end"))
    return ConstructDrawing(
        tuple(shapes),
        (
            *labels,
            *ends,
            Label(pencil.x(378), 97, "acromion"),
            Label(pencil.x(152), 200, "coracoid"),
        ),
        _words(built, side, family, counts),
        # Without words above the plate there is no room for them.
        top=18 if counts.keys() & {"free_slots_count", "retainer_count"} else 50,
    )


def has_plate(family: str, counts: dict[str, int | None]) -> bool:
    """Say whether there is a plate: by the kind of construct, else by what is recorded of one."""
    return family in PLATES or any(counts.get(name) for name in SCREWS)


class _Pencil:
    """Writes paths for the side that is drawn."""

    def __init__(self, *, mirrored: bool) -> None:
        self.mirrored = mirrored

    def x(self, x: float) -> float:
        return round(WIDTH - x if self.mirrored else x, 1)

    def line(self, *points: Point, look: str, closed: bool = False) -> Shape:
        told = " ".join(f"{self.x(x):g},{round(y, 1):g}" for x, y in points)
        return Shape(f"M {told}{' Z' if closed else ''}", look)

    def box(self, x: float, y: float, wide: float, high: float, look: str) -> Shape:
        corners = ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))
        return self.line(*corners, look=look, closed=True)


def _counts(built: Drawable, family: str) -> dict[str, int | None]:
    """Return the number of each kind that is recorded, and None for what should be and is not."""
    expected = EXPECTED.get(family, ())
    found = {name: getattr(built, name) for name in NOUNS}
    return {name: n for name, n in found.items() if n is not None or name in expected}


def _bones(pencil: _Pencil, fractured: bool) -> Iterator[Shape]:
    clavicle = ((14, 94), (308, 92), (322, 104), (310, 120), (14, 122))
    acromion = ((336, 86), (408, 80), (424, 92), (410, 106), (336, 108))
    coracoid = ((196, 206), (206, 178), (232, 168), (262, 176), (274, 196), (250, 208))
    for outline in (clavicle, acromion, coracoid):
        yield pencil.line(*outline, look="bone", closed=True)
    if fractured:
        yield pencil.line((246, 90), (238, 101), (247, 110), (240, 123), look="fracture")


def _plate(pencil: _Pencil, *, hook: bool) -> Iterator[Shape]:
    yield pencil.box(58, 80, 252, 11, "plate")
    if hook:
        yield pencil.line((306, 85), (325, 86), (338, 115), (398, 115), look="hook")


def _spread(room: tuple[float, float], count: int) -> Sequence[float]:
    """Return the middles of so many things side by side in a room."""
    low, high = room
    part = (high - low) / max(count, 1)
    return [low + part * (n + 0.5) for n in range(count)]


def _screws(pencil: _Pencil, counts: dict[str, int | None]) -> Iterator[Shape]:
    for name, room, look in (
        ("shaft_screw_count", SHAFT, "screw"),
        ("lateral_screw_count", LATERAL, "screw small"),
    ):
        if name not in counts:
            continue
        count = counts[name]
        if count is None:
            yield pencil.box(room[0], 76, room[1] - room[0], 54, "unknown")
            continue
        for n, x in enumerate(_spread(room, count)):
            # Many small heads side by side would run into each other: every other one is lower.
            head = 84 if look == "screw" or n % 2 else 88
            half = 4 if look == "screw" else 2.5
            yield pencil.line((x, head), (x, 130), look=look)
            yield pencil.line((x - half, head), (x + half, head), look=f"head {look}")


def _hanging(pencil: _Pencil, counts: dict[str, int | None]) -> Iterator[Shape]:
    """Draw what joins the clavicle with the coracoid."""
    slots, anchors = counts.get("free_slots_count"), counts.get("anchor_count")
    buttons, retainers = counts.get("button_count"), counts.get("retainer_count")
    yield from (
        pencil.line((x, 92), (x, 196), look="suture") for x in _spread(CORACOID, buttons or 0)
    )
    yield from (
        pencil.line((x, 92), (x, 184), look="suture") for x in _spread(CORACOID, anchors or 0)
    )
    for x in _spread(SLOTS, slots or 0):
        yield pencil.box(x - 4, 82, 8, 7, "slot")
    for x in _spread(SLOTS, retainers or 0):
        yield pencil.box(x - 3, 74, 6, 6, "retainer")
    for x in _spread(CORACOID, anchors or 0):
        tip = ((x - 5, 180), (x + 5, 180), (x, 198))
        yield pencil.line(*tip, look="anchor", closed=True)
    for x in _spread(CORACOID, buttons or 0):
        yield pencil.box(x - 8, 210, 16, 5, "button")
    yield from _unknown(pencil, counts)


def _unknown(pencil: _Pencil, counts: dict[str, int | None]) -> Iterator[Shape]:
    rooms = {
        "free_slots_count": (SLOTS[0], 80, SLOTS[1] - SLOTS[0], 11),
        "retainer_count": (SLOTS[0], 70, SLOTS[1] - SLOTS[0], 9),
        "anchor_count": (CORACOID[0], 176, CORACOID[1] - CORACOID[0], 24),
        "button_count": (CORACOID[0], 208, CORACOID[1] - CORACOID[0], 9),
    }
    for name, (x, y, wide, high) in rooms.items():
        if name in counts and counts[name] is None:
            yield pencil.box(x, y, wide, high, "unknown")


def _graft(pencil: _Pencil, built: Drawable, family: str) -> Iterator[Shape]:
    if built.graft in GRAFTS:
        yield pencil.box(188, 88, 94, 130, "graft")
    elif family == "tendon_graft":
        yield pencil.box(188, 88, 94, 130, "unknown")


def _said(built: Drawable, name: str, count: int | None) -> str:
    one, several = NOUNS[name]
    if count is None:
        return f"? {several}"
    size = getattr(built, SIZES[name]) if name in SIZES else None
    of_size = f" of {float(size):g} mm" if count and size is not None else ""
    return f"{count or 'no'} {one if count == 1 else several}{of_size}"


def _words(built: Drawable, side: str, family: str, counts: dict[str, int | None]) -> str:
    known = [_said(built, name, n) for name, n in counts.items() if n is not None]
    unknown = [NOUNS[name][1] for name, n in counts.items() if n is None]
    parts: list[str] = []
    if has_plate(family, counts):
        parts.append("plate with a hook under the acromion" if family == "hook_plate" else "plate")
    parts += known
    parts += [f"{built.suture_kind} suture"] if built.suture_kind else []
    if built.graft in GRAFTS:
        parts.append(f"{built.graft} round the coracoid")
    elif family == "tendon_graft":
        unknown.append("the graft")
    found = (
        f"{side.capitalize()} shoulder from the front: {', '.join(parts) or 'nothing recorded'}."
    )
    return f"{found} Not recorded: {', '.join(unknown)}." if unknown else found
