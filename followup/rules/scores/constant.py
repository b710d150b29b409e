"""The Constant-Murley score from its parts.

References: Constant and Murley, Clin Orthop 1987; Constant et al. 2008 (line scale of pain);
point tables as printed in the Danish description (Dan Med J 2013;60(4)).
"""

from dataclasses import dataclass

from followup.rules.scores.result import Item, ScoreResult, fault_in, no_number

POUND_KG = 0.45359237
MAX_STRENGTH = 25
# Beyond what an arm can hold: a reading in another unit.
MAX_STRENGTH_KG = 60
HAND_POSITIONS = (0, 2, 4, 6, 8, 10)
ROTATION_POINTS = {"thigh": 0, "buttock": 2, "ls": 4, "l3": 6, "t12": 8, "t7": 10}
LANDMARKS = tuple(ROTATION_POINTS)
REACHES_90 = 11
# Our own words: they name what is measured, not the questions of the printed form.
ITEMS = (
    Item(1, 0, 15, words="Pain, points: 15 none to 0 severe"),
    Item(2, 0, 2, words="Sleep, points: 2 undisturbed to 0"),
    Item(3, 0, 4, words="Work, points: 4 full to 0"),
    Item(4, 0, 4, words="Recreation, points: 4 full to 0"),
    Item(5, 0, 10, words="Hand position, points in twos: 0 below the waist to 10 overhead"),
    Item(6, 0, 190, words="Flexion, active and pain-free, degrees"),
    Item(7, 0, 190, words="Abduction, active and pain-free, degrees"),
    Item(8, 0, 5, words="External rotation, tasks done of five"),
    Item(9, 0, 5, words="Internal rotation: 0 thigh, 1 buttock, 2 LS, 3 L3, 4 T12, 5 T7"),
    Item(10, 0, MAX_STRENGTH_KG, whole=False, words="Strength at 90 degrees, kg"),
    Item(REACHES_90, 0, 1, words="The arm reaches 90 degrees: 1 yes, 0 no"),
)


@dataclass(frozen=True)
class ConstantParts:
    """The parts of the score; None means not examined.

    Pain in points (0-15), sleep 0-2, work and recreation 0-4, hand position 0-10 in twos, angles in
    degrees of pain-free active motion, external rotation tasks 0-5, strength in kg.
    """

    pain_points: float | None
    sleep: int | None
    work: int | None
    recreation: int | None
    hand_position: int | None
    flexion_deg: int | None
    abduction_deg: int | None
    external_rotation_tasks: int | None
    internal_rotation: str | None
    strength_kg: float | None
    reaches_90: bool = True


def pain_from_line(centimetres: float) -> int:
    """Return pain points from a 15 cm line: 15 less the mark, halves rounded up.

    Raises ValueError outside the line.
    """
    if not 0 <= centimetres <= 15:
        raise ValueError(f"the mark is at {centimetres} cm; the line goes from 0 to 15")
    return 15 - int(centimetres + 0.5)


def motion_points(degrees: int) -> int:
    """Return the points of flexion or abduction: two for each 30 degrees above 30, at most ten."""
    return min(10, max(0, -(-(degrees - 30) // 30) * 2))


def strength_points(strength_kg: float | None, *, reaches_90: bool) -> float | None:
    """Return one point a pound, at most 25; 0, not missing, when the arm does not reach 90 degrees."""
    if not reaches_90:
        return 0.0
    if strength_kg is None:
        return None
    return min(float(MAX_STRENGTH), strength_kg / POUND_KG)


def constant(parts: ConstantParts) -> ScoreResult:
    """Return the total, 0 to 100 (best); any part that was not examined leaves it not computable.

    The missing rule is from memory.
    """
    ranges = {
        "pain_points": (0, 15),
        "sleep": (0, 2),
        "work": (0, 4),
        "recreation": (0, 4),
        "hand_position": (0, 10),
        "flexion_deg": (0, 190),
        "abduction_deg": (0, 190),
        "external_rotation_tasks": (0, 5),
    }
    total = 0.0
    for name, (low, high) in ranges.items():
        value = getattr(parts, name)
        if value is None:
            return no_number(f"{name.replace('_', ' ')} was not examined")
        if not low <= value <= high:
            return no_number(f"{name.replace('_', ' ')} is {value}; it goes from {low} to {high}")
        total += _points(name, value)
    if parts.hand_position not in HAND_POSITIONS:
        return no_number(f"hand position is {parts.hand_position}; it goes from 0 to 10 in twos")
    if parts.internal_rotation not in ROTATION_POINTS:
        return no_number("internal rotation was not examined")
    if parts.strength_kg is not None and not 0 <= parts.strength_kg <= MAX_STRENGTH_KG:
        return no_number(
            f"strength is {parts.strength_kg:g} kg; it goes from 0 to {MAX_STRENGTH_KG}"
        )
    strength = strength_points(parts.strength_kg, reaches_90=parts.reaches_90)
    if strength is None:
        return no_number("strength was not examined")
    return ScoreResult(round(total + ROTATION_POINTS[parts.internal_rotation] + strength, 2))


def _points(name: str, value: float) -> float:
    if name in ("flexion_deg", "abduction_deg"):
        return motion_points(int(value))
    return value * 2 if name == "external_rotation_tasks" else value


def from_numbers(items: dict[int, float]) -> ScoreResult:
    """Return the total from the parts by number, as `ITEMS` lists them.

    Where item 11 is not given, the arm is taken to reach 90 degrees when it was flexed or abducted so
    far. Said to reach it without doing so in either direction, the parts contradict each other.
    """
    fault = fault_in(items, ITEMS)
    if fault:
        return no_number(fault)
    flexion, abduction = items.get(6), items.get(7)
    lifted = max(flexion or 0, abduction or 0)
    reaches = bool(items.get(REACHES_90, lifted >= 90))
    if items.get(REACHES_90) and None not in (flexion, abduction) and lifted < 90:
        return no_number(
            f"item 11 says that the arm reaches 90 degrees, and it was lifted to {lifted:g} at most"
        )
    landmark = items.get(9)
    return constant(
        ConstantParts(
            pain_points=items.get(1),
            sleep=_whole(items.get(2)),
            work=_whole(items.get(3)),
            recreation=_whole(items.get(4)),
            hand_position=_whole(items.get(5)),
            flexion_deg=_whole(flexion),
            abduction_deg=_whole(abduction),
            external_rotation_tasks=_whole(items.get(8)),
            internal_rotation=None if landmark is None else LANDMARKS[int(landmark)],
            strength_kg=items.get(10),
            reaches_90=reaches,
        )
    )


def _whole(value: float | None) -> int | None:
    return None if value is None else int(value)
