"""What a shoulder's coracoclavicular distance really is, and what readers make of its films."""

from dataclasses import dataclass
from datetime import date
from math import exp
from typing import Any

from analytics.simulation.draws import Draws
from analytics.simulation.records import SimFilm, SimReading
from analytics.simulation.truth import READ_SD_MM, SETTLING_MM

# What is left above the other side when the operation ends, in mm (mean, SD): invented.
LEFT_MM = {
    "anatomical": (0.2, 0.6),
    "near": (1.2, 0.8),
    "poor": (3.0, 1.0),
    "unknown": (0.4, 1.0),
}
# A loss begins with this rise, beyond the threshold of 3 mm, and grows over four weeks.
LOSS_STARTS_MM = 4.0
LOSS_GROWS_DAYS = 28
CALIBRATION = {"marker": 0.58, "detector": 0.32, "none": 0.06, "unknown": 0.04}
# On any other film a length says nothing, a ratio does.
CALIBRATED = ("marker", "detector")
VIEW = {"zanca": 0.965, "ap": 0.03, "chest": 0.005}
POSTURE = {"upright": 0.95, "supine": 0.02, "unknown": 0.03}
WEIGHTED = {"no": 0.95, "unknown": 0.05}
FIRST_READER = {"0": 0.7, "1": 0.3}
SECOND_SHARE, BOTH_SIDES_SHARE, UNION_AGREES_SHARE = 0.12, 0.94, 0.9
ON_LOSS = {"intact": 0.5, "loose": 0.3, "broken": 0.1, "migrated": 0.1}
UNITES_DAY = (85.0, 25.0)


@dataclass(frozen=True)
class Shoulder:
    """The truth of one shoulder after an operation; lengths in mm, days from the operation."""

    other_mm: float
    start_mm: float
    rise_mm: float
    loss_day: int | None
    union_day: int | None
    is_fracture: bool
    calibration: str

    def ccd_mm(self, day: int) -> float:
        """Return the coracoclavicular distance of the injured side on a day."""
        settled = SETTLING_MM * (1 - exp(-day / 60))
        if self.loss_day is None or day < self.loss_day:
            return self.start_mm + settled
        grown = min(1.0, (day - self.loss_day) / LOSS_GROWS_DAYS)
        return self.start_mm + LOSS_STARTS_MM + (self.rise_mm - LOSS_STARTS_MM) * grown

    def is_lost(self, day: int) -> bool:
        """Say whether the reduction is lost by a day."""
        return self.loss_day is not None and day >= self.loss_day

    def union(self, day: int) -> str:
        """Return the state of union on a day, in the codes of a reading."""
        if not self.is_fracture:
            return "not_applicable"
        if self.union_day is None or day < 0.6 * self.union_day:
            return "none"
        return "united" if day >= self.union_day else "partial"


def shoulder(
    rng: Draws,
    *,
    union_share: float,
    is_fracture: bool,
    reduction_quality: str,
    other_mm: float | None = None,
) -> Shoulder:
    """Draw the truth of a shoulder that holds; the other side is drawn unless it is known.

    A healthy side measures 8.6 mm (J Orthop Surg Res 2020, s13018-020-01674-x; its spread of 0.7
    is widened here, since other sources give 11 to 13).
    """
    other = rng.bounded(8.6, 1.4, 5.0, 13.0) if other_mm is None else other_mm
    unites = int(rng.bounded(*UNITES_DAY, 40, 180)) if rng.chance(union_share) else None
    return Shoulder(
        other_mm=other,
        start_mm=max(3.0, other + rng.normal(*LEFT_MM[reduction_quality])),
        rise_mm=rng.uniform(5, 10),
        loss_day=None,
        union_day=unites if is_fracture else None,
        is_fracture=is_fracture,
        calibration=rng.pick(CALIBRATION),
    )


def film(rng: Draws, of: Shoulder, on: date, day: int, *, hardware_in_place: bool) -> SimFilm:
    """Return a film of a day with one reading, now and then with a blind second one."""
    both = rng.chance(BOTH_SIDES_SHARE)
    hardware = "removed"
    if hardware_in_place:
        hardware = rng.pick(ON_LOSS) if of.is_lost(day) else "intact"
    first = int(rng.pick(FIRST_READER))
    readers = [(first, False)]
    if rng.chance(SECOND_SHARE):
        readers.append((1 - first, True))
    return SimFilm(
        taken_on=on,
        view=rng.pick(VIEW),
        posture=rng.pick(POSTURE),
        weighted=rng.pick(WEIGHTED),
        calibration=of.calibration,
        shows_both_sides=both,
        readings=tuple(
            _reading(rng, of, on, day, reader=reader, blind=blind, both=both, hardware=hardware)
            for reader, blind in readers
        ),
        true_ccd_mm=round(of.ccd_mm(day), 2),
        true_rise_mm=round(of.ccd_mm(day) - of.start_mm, 2),
    )


def _reading(
    rng: Draws,
    of: Shoulder,
    on: date,
    day: int,
    *,
    reader: int,
    blind: bool,
    both: bool,
    hardware: str,
) -> SimReading:
    injured = round(max(1.0, rng.normal(of.ccd_mm(day), READ_SD_MM)), 1)
    other = round(max(1.0, rng.normal(of.other_mm, READ_SD_MM)), 1) if both else None
    lengths: dict[str, Any] = {
        "ccd_injured_mm": injured,
        "ccd_other_mm": other,
        "ccd_side_ratio_pct": None,
    }
    if of.calibration not in CALIBRATED:
        ratio = None if other is None else round((injured - other) / other * 100, 1)
        lengths = {"ccd_injured_mm": None, "ccd_other_mm": None, "ccd_side_ratio_pct": ratio}
    union = of.union(day)
    if blind and union in ("none", "united") and not rng.chance(UNION_AGREES_SHARE):
        union = "partial"
    return SimReading(
        reader=reader, read_on=on, blind=blind, union=union, hardware=hardware, **lengths
    )
