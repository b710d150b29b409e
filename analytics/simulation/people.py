"""Invented patients, their injuries, operations and constructs."""

from datetime import date, timedelta
from typing import Any

import numpy as np

from analytics.simulation import setting

REASONS = (
    "Short lateral fragment",
    "Poor bone, screw did not hold",
    "Stock not available on the day",
    "",
)
AC_JOINT_CONSTRUCTS = ("CC-B", "TG")


def identity(rng: np.random.Generator, day: date) -> dict[str, Any]:
    """Return an invented identity; ages are those of working and cycling adults."""
    female = rng.random() < 0.3
    given = setting.GIVEN_FEMALE if female else setting.GIVEN_MALE
    family = str(rng.choice(setting.FAMILY_FIRST)) + str(rng.choice(setting.FAMILY_LAST))
    age_days = int(np.clip(rng.normal(42, 14), 17, 88) * 365.25)
    born = day - timedelta(days=age_days)
    number = int(rng.integers(100000, 999999))
    return {
        "family_name": family,
        "given_name": str(rng.choice(given)),
        "birth_earliest": born,
        "birth_latest": born,
        "sex": "female" if female else "male",
        "phone": f"0000 {number}" if rng.random() < 0.93 else "",
        "email": f"{family.lower()}.{number}@patients.invalid" if rng.random() < 0.7 else "",
    }


def injury(rng: np.random.Generator, day: date, code: str) -> tuple[dict[str, Any], dict[str, str]]:
    """Return an injury and its classes; some dates are known only to the month."""
    ac_joint = code in AC_JOINT_CONSTRUCTS and rng.random() < 0.75
    hurt = day - timedelta(days=int(rng.gamma(2.0, 3.0)) + 2)
    first, last = hurt, hurt
    if rng.random() < 0.02:
        first = hurt.replace(day=1)
    values = {
        "kind": "ac_joint" if ac_joint else "lateral_clavicle",
        "side": "left" if rng.random() < 0.55 else "right",
        "injured_earliest": first,
        "injured_latest": last,
        "mechanism": str(
            rng.choice(
                ["bicycle", "sport", "fall_standing", "road", "fall_height"],
                p=[0.4, 0.22, 0.2, 0.13, 0.05],
            )
        ),
        "energy": "high" if rng.random() < 0.35 else "low",
        "skin": "closed" if rng.random() < 0.99 else "open",
        "dominant_arm": "right" if rng.random() < 0.89 else "left",
        "other_shoulder": str(
            rng.choice(["uninjured", "injured_before", "unknown"], p=[0.9, 0.05, 0.05])
        ),
        "smoking": str(
            rng.choice(["never", "former", "current", "unknown"], p=[0.5, 0.2, 0.25, 0.05])
        ),
        "diabetes": str(rng.choice(["no", "yes", "unknown"], p=[0.9, 0.06, 0.04])),
        "bmi_kg_m2": None
        if rng.random() < 0.15
        else round(float(np.clip(rng.normal(26, 4), 17, 48)), 1),
        "steroid_use": str(rng.choice(["no", "yes", "unknown"], p=[0.95, 0.02, 0.03])),
        "osteoporosis": str(rng.choice(["no", "yes", "unknown"], p=[0.9, 0.05, 0.05])),
        "work_demand": str(
            rng.choice(["low", "moderate", "high", "unknown"], p=[0.4, 0.3, 0.25, 0.05])
        ),
        "sport_demand": str(
            rng.choice(["none", "recreational", "contact", "unknown"], p=[0.3, 0.5, 0.15, 0.05])
        ),
    }
    if ac_joint:
        return values, {"rockwood": str(rng.choice(["III", "IV", "V"], p=[0.35, 0.1, 0.55]))}
    classes = {"neer": str(rng.choice(["IIA", "IIB", "IIC", "V"], p=[0.22, 0.5, 0.08, 0.2]))}
    if rng.random() < 0.7:
        classes["ao_ota"] = str(rng.choice(["15.3A", "15.3B"]))
    return values, classes


def operation(rng: np.random.Generator, on: date) -> dict[str, Any]:
    """Return the facts of an operation; a few were never written down."""
    return {
        "performed_on": on,
        "operator_grade": str(rng.choice(["consultant", "fellow", "trainee"], p=[0.6, 0.2, 0.2])),
        "assistant_grade": str(rng.choice(["trainee", "fellow", "not_applicable", "unknown"])),
        "position": "beach_chair" if rng.random() < 0.9 else "supine",
        "approach": str(rng.choice(["transverse", "skin_lines", "unknown"], p=[0.6, 0.35, 0.05])),
        "provisional_fixation": str(rng.choice(["yes", "no", "unknown"], p=[0.6, 0.3, 0.1])),
        "reduction_quality": str(rng.choice(["anatomical", "near", "poor"], p=[0.75, 0.22, 0.03])),
        "intraoperative_film": str(rng.choice(["yes", "no", "unknown"], p=[0.93, 0.04, 0.03])),
        "duration_minutes": int(np.clip(rng.normal(75, 18), 30, 180)),
    }


def construct(rng: np.random.Generator, code: str) -> tuple[dict[str, Any], str]:
    """Return a construct's facts, and the reason given where it departs from a check."""
    if not code.startswith(("LP", "HP")):
        knots = {"knot": "surgeons_knot", "half_hitch_count": int(rng.integers(3, 6))}
        graft = "autograft" if code == "TG" else "none"
        return {"button_count": int(code == "CC-B") * 2, "graft": graft, **knots}, ""
    values: dict[str, Any] = {
        "plate_holes": int(rng.integers(5, 9)),
        "shaft_screw_count": int(rng.integers(3, 6)),
        "shaft_screw_diameter_mm": 3.5,
        "shaft_drill_mm": 2.8,
        "shaft_cortices": int(rng.integers(6, 11)),
        "graft": "none",
        "shorter_screw_chosen": str(rng.choice(["yes", "not_between", "unknown"])),
    }
    if code == "HP":
        return values, ""
    anchors = {"LP": 0, "LP+A1": 1, "LP+A2": 2}[code]
    departs = rng.random() < 0.12
    values |= {
        "lateral_screw_count": 5 if departs else int(rng.integers(6, 9)),
        "lateral_screw_diameter_mm": 2.3,
        "lateral_drill_mm": 2.0,
        "lateral_screws_locking": "yes",
        "anchor_count": anchors,
        "free_slots_count": anchors,
        "retainer_count": anchors if rng.random() < 0.95 else max(0, anchors - 1),
        "first_two_screws": str(rng.choice(["one_each_side", "unknown"], p=[0.85, 0.15])),
        "guide_wire_clear": str(rng.choice(["yes", "not_shown", "unknown"], p=[0.88, 0.05, 0.07])),
    }
    if anchors:
        hitches = None if rng.random() < 0.08 else int(rng.integers(3, 6))
        values |= {"knot": "surgeons_knot", "half_hitch_count": hitches, "suture_kind": "braided"}
    return values, str(rng.choice(REASONS)) if departs else ""
