"""Invented operations, and the constructs and parts that they put in."""

from datetime import date, timedelta
from typing import Any

from analytics.simulation.draws import Draws
from analytics.simulation.records import SimConstruct, SimPart

REASONS = (
    "Short lateral fragment",
    "Poor bone, screw did not hold",
    "Stock not available on the day",
    "",
)
PLATES = ("LP", "LP+A1", "LP+A2")
ANCHORS = {"LP": 0, "LP+A1": 1, "LP+A2": 2}
OPERATOR = {"consultant": 0.6, "fellow": 0.2, "trainee": 0.18, "unknown": 0.02}
ASSISTANT = {"trainee": 0.5, "fellow": 0.2, "not_applicable": 0.2, "unknown": 0.1}
APPROACH = {"transverse": 0.6, "skin_lines": 0.35, "unknown": 0.05}
SCOPED = {"arthroscopic": 0.6, "transverse": 0.2, "skin_lines": 0.17, "unknown": 0.03}
PROVISIONAL = {"yes": 0.6, "no": 0.3, "unknown": 0.1}
REDUCTION = {"anatomical": 0.74, "near": 0.2, "poor": 0.03, "unknown": 0.03}
FILM = {"yes": 0.95, "no": 0.02, "unknown": 0.03}
FIRST_SCREWS = {"one_each_side": 0.87, "same_side": 0.02, "unknown": 0.11}
WIRE = {"yes": 0.9, "no": 0.01, "not_shown": 0.02, "unknown": 0.07}
SHORTER = {"yes": 0.45, "not_between": 0.4, "no": 0.02, "unknown": 0.13}
MINUTES = {"LP": 70, "LP+A1": 82, "LP+A2": 92, "HP": 62, "CC-B": 75, "TG": 105}
SMALL_MM, SMALL_DRILL_MM, SHAFT_MM, SHAFT_DRILL_MM = 2.3, 2.0, 3.5, 2.8
FROM_TRAY_SHARE, NO_BATCH_SHARE = 0.6, 0.04
STERILE = ("anchor", "suture", "button", "graft")
# Instead of what failed: invented, but never the same again.
REVISED_TO = {"LP": "HP", "LP+A1": "HP", "LP+A2": "HP", "HP": "LP+A2", "CC-B": "TG", "TG": "HP"}


def operation(rng: Draws, on: date, code: str) -> dict[str, Any]:
    """Return the facts of a fixation; a few were never written down."""
    minutes = int(rng.bounded(MINUTES[code], 15, 30, 180))
    return {
        "performed_on": on,
        "operator_grade": rng.pick(OPERATOR),
        "assistant_grade": rng.pick(ASSISTANT),
        "position": "beach_chair" if rng.chance(0.9) else "supine",
        "approach": rng.pick(SCOPED if code == "CC-B" else APPROACH),
        "provisional_fixation": rng.pick(PROVISIONAL),
        "reduction_quality": rng.pick(REDUCTION),
        "intraoperative_film": rng.pick(FILM),
        "duration_minutes": None if rng.chance(0.03) else minutes,
    }


def small_operation(rng: Draws, on: date) -> dict[str, Any]:
    """Return the facts of an implant removal or a washout."""
    return {
        "performed_on": on,
        "operator_grade": rng.pick(OPERATOR),
        "assistant_grade": rng.pick(ASSISTANT),
        "position": "beach_chair",
        "duration_minutes": int(rng.bounded(32, 9, 12, 90)),
    }


def construct(rng: Draws, code: str, site: int, operated: dict[str, Any]) -> SimConstruct:
    """Return what an operation put in, with its parts and now and then a departure.

    Where it departs from a construct check the reason is given, or was not written down.
    """
    if code in PLATES:
        values, departs = _lateral_plate(rng, code)
    elif code == "HP":
        values, departs = _hook_plate(rng)
    else:
        values, departs = _without_plate(rng, code)
    departs = departs or operated["intraoperative_film"] == "no"
    return SimConstruct(
        construct_type=code,
        values=values,
        parts=_parts(rng, code, values, site, operated["performed_on"]),
        departs=departs,
        departure_reason=rng.choice(REASONS) if departs else "",
    )


def _shaft(rng: Draws) -> dict[str, Any]:
    screws = rng.integers(3, 6)
    return {
        "plate_holes": rng.integers(5, 9),
        "shaft_screw_count": screws,
        "shaft_screw_diameter_mm": SHAFT_MM,
        "shaft_drill_mm": None if rng.chance(0.1) else SHAFT_DRILL_MM,
        "shaft_cortices": None if rng.chance(0.2) else 2 * screws,
        "graft": "none",
        "shorter_screw_chosen": rng.pick(SHORTER),
    }


def _hook_plate(rng: Draws) -> tuple[dict[str, Any], bool]:
    values = _shaft(rng)
    return values, values["shorter_screw_chosen"] == "no"


def _lateral_plate(rng: Draws, code: str) -> tuple[dict[str, Any], bool]:
    anchors = ANCHORS[code]
    few, loose, off = rng.chance(0.06), rng.chance(0.03), rng.chance(0.02)
    values = {
        **_shaft(rng),
        "lateral_screw_count": 5 if few else rng.integers(6, 9),
        "lateral_screw_diameter_mm": SMALL_MM,
        "lateral_drill_mm": 2.5 if off else SMALL_DRILL_MM,
        "lateral_screws_locking": "yes",
        "anchor_count": anchors,
        "free_slots_count": anchors,
        "retainer_count": anchors - 1 if loose and anchors else anchors,
        "first_two_screws": rng.pick(FIRST_SCREWS),
        "guide_wire_clear": rng.pick(WIRE),
    }
    short = False
    if anchors:
        knots = _knot(rng)
        values |= knots
        short = knots["half_hitch_count"] == 2
    departs = (
        few
        or off
        or short
        or values["retainer_count"] != anchors
        or values["first_two_screws"] == "same_side"
        or values["guide_wire_clear"] in ("no", "not_shown")
        or values["shorter_screw_chosen"] == "no"
    )
    return values, departs


def _knot(rng: Draws) -> dict[str, Any]:
    hitches = None if rng.chance(0.08) else rng.integers(3, 6)
    return {
        "suture_kind": "braided",
        "knot": "surgeons_knot",
        "half_hitch_count": 2 if rng.chance(0.03) else hitches,
    }


def _without_plate(rng: Draws, code: str) -> tuple[dict[str, Any], bool]:
    values = {
        **_knot(rng),
        "button_count": 2 if code == "CC-B" else 0,
        "graft": ("autograft" if rng.chance(0.7) else "allograft") if code == "TG" else "none",
    }
    # The knot is checked in a suspensory construct, not in a graft.
    return values, code == "CC-B" and values["half_hitch_count"] == 2


def _parts(
    rng: Draws, code: str, values: dict[str, Any], site: int, on: date
) -> tuple[SimPart, ...]:
    holes = values.get("plate_holes")
    plate = "Hook plate" if code == "HP" else "Lateral clavicle locking plate"
    wanted = (
        ("plate", f"{plate}, {holes} holes", "PL", 1 if holes else 0),
        ("screw", "Locking screw 2.3 mm", "SL", values.get("lateral_screw_count", 0)),
        ("screw", "Shaft screw 3.5 mm", "SS", values.get("shaft_screw_count", 0)),
        ("anchor", "Suture anchor for the coracoid", "AN", values.get("anchor_count", 0)),
        ("retainer", "Suture retainer", "RE", values.get("retainer_count", 0)),
        ("button", "Button with suture loop", "BU", values.get("button_count", 0)),
        ("suture", "Braided suture", "SU", 1 if "suture_kind" in values else 0),
        ("graft", "Tendon graft from a bank", "GR", int(values["graft"] == "allograft")),
    )
    return tuple(
        _part(rng, kind, description, article, quantity, site, on)
        for kind, description, article, quantity in wanted
        if quantity
    )


def _part(
    rng: Draws, kind: str, description: str, article: str, quantity: int, site: int, on: date
) -> SimPart:
    # One batch lasts a site for a quarter, so that a recalled one leads to several people.
    quarter = (on.month - 1) // 3 + 1
    lost = rng.chance(FROM_TRAY_SHARE if kind == "screw" else NO_BATCH_SHARE)
    sterile = kind in STERILE
    return SimPart(
        kind=kind,
        description=description,
        catalogue_number=f"{article}-{100 + len(description)}",
        quantity=quantity,
        batch="" if lost else f"{article}{on:%y}{quarter}{chr(65 + site % 26)}",
        serial=f"{article}{rng.integers(0, 10**8):08d}" if kind == "graft" else "",
        expires_on=on + timedelta(days=rng.integers(90, 1500)) if sterile and not lost else None,
        batch_not_obtainable=lost,
    )
