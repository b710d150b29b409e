"""Films and their current readings as frames."""

from datetime import date

import pandas as pd

from analytics.selectors.frame_rows import (
    DAY,
    FLAG,
    INSTANT,
    NUMBER,
    TEXT,
    WHOLE,
    WHOLE_OR_NONE,
    of_index,
    table,
    until_choice,
)
from followup.models import Film, Reading, ReadingFinding
from followup.models.films import CALIBRATED

READINGS = {
    "reading_id": ("id", WHOLE),
    "injury_id": ("film__injury_id", WHOLE),
    "film_id": ("film_id", WHOLE),
    "taken_on": ("film__taken_on", DAY),
    "view": ("film__view", TEXT),
    "position": ("film__posture", TEXT),
    "weighted": ("film__weighted", TEXT),
    "calibrated": ("film__calibration", TEXT),
    "ccd_injured_mm": ("ccd_injured_mm", NUMBER),
    "ccd_other_mm": ("ccd_other_mm", NUMBER),
    "ccd_side_ratio_pct": ("ccd_side_ratio_pct", NUMBER),
    "acd_injured_mm": ("acd_injured_mm", NUMBER),
    "translation_pct": ("translation_pct", NUMBER),
    "union": ("union", TEXT),
    "hardware": ("hardware", TEXT),
    "cortices_bridged": ("cortices_bridged", WHOLE_OR_NONE),
    "fracture_line": ("fracture_line", TEXT),
    "reader_id": ("reader_id", WHOLE),
    "read_on": ("read_on", DAY),
    "blind": ("blind", FLAG),
    "turn": ("turn", WHOLE),
    "image_id": ("image_id", WHOLE_OR_NONE),
    "frame": ("landmarks__frame", WHOLE_OR_NONE),
    "calibration_id": ("calibration_used_id", WHOLE_OR_NONE),
    "shows_both_sides": ("film__shows_both_sides", FLAG),
    "recorded_on": ("recorded_at", INSTANT),
}
FINDINGS = {
    "reading_id": ("reading_id", WHOLE),
    "injury_id": ("reading__film__injury_id", WHOLE),
    "film_id": ("reading__film_id", WHOLE),
    "reader_id": ("reading__reader_id", WHOLE),
    "taken_on": ("reading__film__taken_on", DAY),
    "kind": ("kind", TEXT),
    "found": ("state", TEXT),
    "grade": ("grade", WHOLE_OR_NONE),
    "place": ("place", TEXT),
    "recorded_on": ("reading__recorded_at", INSTANT),
}
FILMS = {
    "film_id": ("id", WHOLE),
    "injury_id": ("injury_id", WHOLE),
    "on": ("taken_on", DAY),
    "view": ("view", TEXT),
    "recorded_on": ("recorded_at", INSTANT),
}


def readings(cases: pd.DataFrame, cutoff: date, *, few: bool = False) -> pd.DataFrame:
    """Read the current readings of the cases' films up to a day, in the order of the films.

    With `few` the database looks for the films of these cases, instead of going through all.
    """
    rows = Reading.objects.filter(
        film__voided_at__isnull=True, film__taken_on__lte=cutoff, superseded_by__isnull=True
    )
    if few:
        rows = rows.filter(film__injury_id__in=cases["injury_id"].tolist())
    frame = of_index(table(rows.order_by("film__taken_on", "id"), READINGS), cases)
    frame = until_choice(frame, cases, "taken_on", "recorded_on")
    frame["calibrated"] = frame["calibrated"].isin([str(code) for code in CALIBRATED])
    weighted = frame["weighted"].map({"yes": True, "no": False})
    frame["weighted"] = weighted.astype("boolean")
    return frame


def findings(cases: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    """Read what the current readings of the cases' films found; what was not looked for has no row."""
    rows = ReadingFinding.objects.filter(
        reading__voided_at__isnull=True,
        reading__superseded_by__isnull=True,
        reading__film__voided_at__isnull=True,
        reading__film__taken_on__lte=cutoff,
    )
    frame = of_index(table(rows.order_by("reading__film__taken_on", "id"), FINDINGS), cases)
    return until_choice(frame, cases, "taken_on", "recorded_on").drop(columns="recorded_on")


def films(cases: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    """Read the cases' films up to a day, read or not: procedure_id, on, view."""
    rows = Film.objects.filter(taken_on__lte=cutoff)
    frame = of_index(table(rows.order_by("taken_on", "id"), FILMS), cases)
    return until_choice(frame, cases, "on", "recorded_on").drop(columns="recorded_on")
