"""From landmarks on a film of the shoulders to distances, their ratio and their difference."""

from collections.abc import Mapping
from dataclasses import dataclass

from followup.rules.calibration import PixelScale
from followup.rules.geometry import LEVEL, Horizon, Point, distance, height, horizon, stretched
from registry.rules.units import side_ratio_pct

INJURED, OTHER = "injured", "other"
SIDES = (INJURED, OTHER)
KINDS = {
    "coracoid_top": "coracoid, its highest point",
    "clavicle_under": "clavicle, the nearest point of its lower cortex",
    "acromion_level": "acromion, upper cortex at the joint",
    "clavicle_level": "clavicle, upper cortex at the joint",
}
SHOULDERS = {INJURED: "injured side", OTHER: "other side"}
HORIZON = {
    "horizon_left": "horizontal, point on the left of the picture",
    "horizon_right": "horizontal, its counterpart on the right",
}
CC, AC = ("clavicle_under", "coracoid_top"), ("clavicle_level", "acromion_level")
# Two marks of one distance that near are one mark.
SAME_PX = 0.5


def names(*, both_sides: bool) -> dict[str, str]:
    """Return the landmarks of a film with their words, in the order in which they are marked."""
    sides = SIDES if both_sides else (INJURED,)
    found = {
        f"{kind}_{side}": f"{text}, {SHOULDERS[side]}"
        for side in sides
        for kind, text in KINDS.items()
    }
    # What is symmetric has to be seen on both sides.
    return {**found, **HORIZON} if both_sides else found


@dataclass(frozen=True)
class SideMeasured:
    """One shoulder: lengths in widths of a pixel and, on a calibrated film, in mm.

    `ccd` is the height of the clavicle's lower cortex above the coracoid, square to the horizontal;
    `acd` the height of the clavicle's upper cortex above the acromion's, negative where lower.
    `straight` is the direct line of the first, which no tilt changes.
    """

    ccd_px: float | None = None
    straight_px: float | None = None
    acd_px: float | None = None
    ccd_mm: float | None = None
    straight_mm: float | None = None
    acd_mm: float | None = None


@dataclass(frozen=True)
class Measures:
    """What the landmarks of one film say; without a horizontal the picture's edge stands for it."""

    injured: SideMeasured
    other: SideMeasured
    ratio_pct: float | None
    difference_mm: float | None
    tilt_deg: float | None


def faults(
    points: Mapping[str, Point], *, rows: int, columns: int, both_sides: bool, scale: PixelScale
) -> dict[str, str]:
    """Return what is missing or impossible, by landmark, in words for the reader; nothing when fine.

    The distance of the injured side is needed; where the film gives ratios only, that of the other
    side too. A distance of which one end was marked needs the other end.
    """
    known = names(both_sides=both_sides)
    found = {name: f"'{name}' is no landmark of this film." for name in points if name not in known}
    for name in known.keys() & points.keys():
        x, y = points[name]
        # Written so that what is no number at all is outside too.
        if not (0 <= x <= columns and 0 <= y <= rows):
            found[name] = f"{x:g}, {y:g} is outside the picture ({columns} by {rows} pixels)."
    found |= _missing(points, known, scale, both_sides=both_sides)
    return found or _impossible(points, scale)


def missing(points: Mapping[str, Point], *, both_sides: bool) -> tuple[str, ...]:
    """Return the words of the landmarks that are not marked yet."""
    return tuple(text for name, text in names(both_sides=both_sides).items() if name not in points)


def measure(points: Mapping[str, Point], scale: PixelScale) -> Measures:
    """Return the measures of a film from its landmarks, points as (column, row) in pixels.

    CC distance is the height from the coracoid's highest point to the nearest point of the
    clavicle's lower cortex, square to the line between two symmetric points; the ratio is
    (injured - other) / other. Raises ValueError for an impossible horizontal and for a distance of
    the other side that is not above zero; ask `faults` before.

    References: CC distance as in radiographic follow-up of acromioclavicular injuries (vertical
    distance of the coracoid's upper and the clavicle's lower cortex); the ratio is that of Rockwood.
    """
    at = {name: stretched(point, scale.aspect) for name, point in points.items()}
    level = _level(at)
    injured, other = (_side(at, side, level or LEVEL, scale) for side in SIDES)
    ratio = difference = None
    if injured.ccd_px is not None and other.ccd_px is not None:
        ratio = side_ratio_pct(injured.ccd_px, other.ccd_px)
        difference = scale.mm(injured.ccd_px - other.ccd_px)
    return Measures(injured, other, ratio, difference, level.tilt_deg if level else None)


def _side(at: Mapping[str, Point], side: str, level: Horizon, scale: PixelScale) -> SideMeasured:
    def between(pair: tuple[str, str]) -> tuple[Point, Point] | None:
        upper, lower = (at.get(f"{kind}_{side}") for kind in pair)
        return None if upper is None or lower is None else (upper, lower)

    def mm(px: float | None) -> float | None:
        return None if px is None else scale.mm(px)

    cc, ac = between(CC), between(AC)
    ccd = height(*cc, level) if cc else None
    straight = distance(*cc) if cc else None
    acd = height(*ac, level) if ac else None
    return SideMeasured(ccd, straight, acd, mm(ccd), mm(straight), mm(acd))


def _level(at: Mapping[str, Point]) -> Horizon | None:
    one, other = (at.get(name) for name in HORIZON)
    return None if one is None or other is None else horizon(one, other)


def _missing(
    points: Mapping[str, Point], known: Mapping[str, str], scale: PixelScale, *, both_sides: bool
) -> dict[str, str]:
    needed = [f"{kind}_{INJURED}" for kind in reversed(CC)]
    why = "Mark it: without it there is no distance."
    if not scale.is_true:
        needed += [f"{kind}_{OTHER}" for kind in reversed(CC)]
        why = "Mark it: a film without calibration gives only the ratio of both sides."
    found = {
        name: why
        if name in known
        else "This film shows one side and is not calibrated: nothing can be measured on it."
        for name in needed
        if name not in points
    }
    pairs = [(f"{a}_{side}", f"{b}_{side}") for a, b in (CC, AC) for side in SIDES]
    for pair in (*pairs, tuple(HORIZON)):
        marked = [name for name in pair if name in points]
        if len(marked) == 1:
            (lacking,) = set(pair) - set(marked)
            found.setdefault(lacking, f"Mark it too, or take away the {known.get(marked[0], '')}.")
    return found


def _impossible(points: Mapping[str, Point], scale: PixelScale) -> dict[str, str]:
    at = {name: stretched(point, scale.aspect) for name, point in points.items()}
    try:
        level = _level(at) or LEVEL
    except ValueError as fault:
        return {"horizon_right": f"Check both ends: {fault}."}
    found = {}
    for side in SIDES:
        upper, lower = (f"{kind}_{side}" for kind in CC)
        if upper in at and height(at[upper], at[lower], level) < SAME_PX:
            found[upper] = (
                "It lies at or below the coracoid's highest point: check both marks; a clavicle "
                "below the coracoid cannot be measured this way."
            )
    one, two = (at.get(f"coracoid_top_{side}") for side in SIDES)
    if one is not None and two is not None and distance(one, two) < SAME_PX:
        found[f"coracoid_top_{OTHER}"] = "It is the same point as on the injured side."
    return found
