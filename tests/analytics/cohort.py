"""Small cohorts as frames: each test names only what matters to it. Days count from an operation."""

from datetime import date, timedelta
from typing import Any

import pandas as pd

from analytics.endpoints.definition import Data

OPERATED = date(2024, 1, 10)
CUTOFF = date(2026, 11, 25)

CASE: dict[str, Any] = {
    "site": "north",
    "surgeon_id": 1,
    "construct_type": "LP",
    "performed_on": OPERATED,
    "patient_key": "P1",
    "side": "left",
    "injury_kind": "lateral_clavicle",
    "age_years": 40,
    "sex": "male",
    "neer": "IIB",
    "ao_ota": None,
    "rockwood": None,
    "other_shoulder": "uninjured",
    "patient_status": "active",
    "status_on": None,
    "revised_on": None,
    "removed_on": None,
    "planned_removal": False,
    "last_seen_on": None,
}
READING: dict[str, Any] = {
    "view": "zanca",
    "position": "upright",
    "weighted": None,
    "calibrated": True,
    "ccd_injured_mm": None,
    "ccd_other_mm": None,
    "ccd_side_ratio_pct": None,
    "translation_pct": None,
    "union": "none",
    "hardware": "intact",
    "reader_id": 1,
}
COMPLICATION: dict[str, Any] = {"kind": "nerve", "onset_on": None, "grade": "I", "relation": ""}
DAYS = ("performed_on", "status_on", "revised_on", "removed_on", "last_seen_on")
LENGTHS = ("ccd_injured_mm", "ccd_other_mm", "ccd_side_ratio_pct", "translation_pct")


def on(day: int) -> date:
    """Return the date that many days after the operation."""
    return OPERATED + timedelta(days=day)


def film(day: int, injured: float | None = None, other: float | None = None, **more: Any) -> Any:
    """Return a reading of a film of case 1, taken that many days after the operation."""
    return {
        **READING,
        "procedure_id": 1,
        "taken_on": on(day),
        "ccd_injured_mm": injured,
        "ccd_other_mm": other,
        **more,
    }


def harm(day: int, kind: str = "nerve", **more: Any) -> dict[str, Any]:
    """Return a complication of case 1 that came to light on a day."""
    return {**COMPLICATION, "procedure_id": 1, "kind": kind, "detected_on": on(day), **more}


def data(
    cases: list[dict[str, Any]] | None = None,
    films: "list[dict[str, Any]] | tuple[dict[str, Any], ...]" = (),
    harms: "list[dict[str, Any]] | tuple[dict[str, Any], ...]" = (),
    cutoff: date = CUTOFF,
) -> Data:
    """Return frames of some cases (one plain case by default), numbered from 1."""
    rows = [{**CASE, **values} for values in ([{}] if cases is None else cases)]
    numbered = [{"procedure_id": number, **row} for number, row in enumerate(rows, 1)]
    readings = [
        {"reading_id": number, "film_id": number, **row} for number, row in enumerate(films, 1)
    ]
    complications = [{"complication_id": number, **row} for number, row in enumerate(harms, 1)]
    return Data(
        cases=_dated(pd.DataFrame(numbered, columns=["procedure_id", *CASE]), *DAYS).set_index(
            "procedure_id"
        ),
        readings=_readings(readings),
        complications=_dated(
            pd.DataFrame(
                complications,
                columns=["complication_id", "procedure_id", "detected_on", *COMPLICATION],
            ),
            "onset_on",
            "detected_on",
        ),
        cutoff=cutoff,
    )


def _readings(rows: list[dict[str, Any]]) -> pd.DataFrame:
    columns = ["reading_id", "film_id", "procedure_id", "taken_on", *READING]
    frame = pd.DataFrame(rows, columns=columns)
    for name in LENGTHS:
        frame[name] = pd.to_numeric(frame[name]).astype(float)
    frame["calibrated"] = frame["calibrated"].astype(bool)
    return _dated(frame, "taken_on")


def _dated(frame: pd.DataFrame, *columns: str) -> pd.DataFrame:
    for name in columns:
        frame[name] = pd.to_datetime(frame[name]).astype("datetime64[ns]")
    return frame
