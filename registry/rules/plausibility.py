"""Impossible values are refused; unlikely ones are asked about once and kept with a flag."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from numbers import Real
from typing import Any


@dataclass(frozen=True)
class Limits:
    """Outside `possible` a value is refused, outside `likely` it is asked about. From memory."""

    possible: tuple[float, float]
    likely: tuple[float, float]
    unit: str = ""


@dataclass(frozen=True)
class Finding:
    """One doubtful value."""

    field: str
    impossible: bool
    message: str


LIMITS: dict[str, Limits] = {
    "age_years": Limits((0, 120), (16, 95), "years"),
    "bmi_kg_m2": Limits((10, 90), (16, 50), "kg/m2"),
    "duration_minutes": Limits((5, 900), (20, 240), "minutes"),
    "days_from_injury": Limits((0, 20000), (0, 42), "days"),
    "plate_holes": Limits((0, 30), (3, 14)),
    "lateral_screw_count": Limits((0, 20), (0, 10)),
    "lateral_screw_diameter_mm": Limits((1, 8), (2, 4), "mm"),
    "lateral_drill_mm": Limits((0.5, 8), (1.5, 3.5), "mm"),
    "shaft_screw_count": Limits((0, 20), (0, 8)),
    "shaft_screw_diameter_mm": Limits((1, 8), (2.4, 4.5), "mm"),
    "shaft_drill_mm": Limits((0.5, 8), (1.8, 3.5), "mm"),
    "shaft_cortices": Limits((0, 40), (0, 16)),
    "anchor_count": Limits((0, 6), (0, 3)),
    "button_count": Limits((0, 6), (0, 3)),
    "free_slots_count": Limits((0, 10), (0, 4)),
    "retainer_count": Limits((0, 10), (0, 4)),
    "half_hitch_count": Limits((0, 20), (0, 8)),
    "ccd_injured_mm": Limits((0.1, 60), (3, 35), "mm"),
    "ccd_other_mm": Limits((0.1, 60), (3, 18), "mm"),
    "ccd_side_ratio_pct": Limits((-100, 600), (-40, 300), "%"),
    "acd_injured_mm": Limits((-60, 60), (-10, 40), "mm"),
    "acd_other_mm": Limits((-60, 60), (-6, 8), "mm"),
    "translation_pct": Limits((0, 400), (0, 150), "%"),
    "flexion_deg": Limits((0, 190), (10, 185), "degrees"),
    "abduction_deg": Limits((0, 190), (10, 185), "degrees"),
    "external_rotation_deg": Limits((-60, 120), (-20, 100), "degrees"),
    "other_flexion_deg": Limits((0, 190), (10, 185), "degrees"),
    "other_abduction_deg": Limits((0, 190), (10, 185), "degrees"),
    "other_external_rotation_deg": Limits((-60, 120), (-20, 100), "degrees"),
    "passive_flexion_deg": Limits((0, 190), (10, 185), "degrees"),
    "passive_abduction_deg": Limits((0, 190), (10, 185), "degrees"),
    "passive_external_rotation_deg": Limits((-60, 120), (-20, 100), "degrees"),
    "pain": Limits((0, 10), (0, 10)),
}


def judge(values: Mapping[str, Any]) -> list[Finding]:
    """Return a finding for each number outside its limits; fields without limits pass."""
    findings = []
    for field, value in values.items():
        limits = LIMITS.get(field)
        if limits is None or value is None or not isinstance(value, Real | Decimal):
            continue
        finding = _judge_one(field, float(value), limits)
        if finding is not None:
            findings.append(finding)
    return findings


def _judge_one(field: str, value: float, limits: Limits) -> Finding | None:
    low, high = limits.possible
    unit = f" {limits.unit}" if limits.unit else ""
    if not low <= value <= high:
        message = f"{value:g}{unit} is not possible; expected {low:g} to {high:g}{unit}"
        return Finding(field, impossible=True, message=message)
    low, high = limits.likely
    if not low <= value <= high:
        message = f"{value:g}{unit} is unusual (usual: {low:g} to {high:g}{unit}); please check it"
        return Finding(field, impossible=False, message=message)
    return None
