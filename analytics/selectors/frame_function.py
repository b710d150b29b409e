"""Motion and scores as frames: one row a movement or an instrument, with the review it counts for."""

from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from analytics.selectors.frame_cases import why_missing
from analytics.selectors.frame_rows import (
    CODE,
    DAY,
    INSTANT,
    NUMBER,
    TEXT,
    WHOLE,
    codes,
    days_after,
    of_index,
    table,
    until_choice,
)
from analytics.selectors.frame_windows import with_step
from followup.models import MotionExam, Score
from followup.models.motion import InternalRotation

DEGREES = ("flexion", "abduction", "external_rotation")
ROTATION = "internal_rotation"
LEVELS = {str(level): place for place, level in enumerate(InternalRotation.values)}
EXAMS = {
    "exam_id": ("id", WHOLE),
    "injury_id": ("injury_id", WHOLE),
    "examined_on": ("examined_on", DAY),
    "side": ("side", TEXT),
    "mode": ("mode", CODE),
    **{name: (f"{name}_deg", NUMBER) for name in DEGREES},
    ROTATION: (ROTATION, TEXT),
    **{f"{name}_missing": (f"missing__{name}_deg", TEXT) for name in DEGREES},
    f"{ROTATION}_missing": (f"missing__{ROTATION}", TEXT),
    "recorded_on": ("recorded_at", INSTANT),
}
SCORES = {
    "score_id": ("id", WHOLE),
    "injury_id": ("injury_id", WHOLE),
    "instrument": ("instrument", CODE),
    "instrument_version": ("instrument_version", CODE),
    "answered_on": ("taken_on", DAY),
    "total": ("value", NUMBER),
    "relative_pct": ("relative_pct", NUMBER),
    "mode": ("mode", CODE),
    "hardware_in_place": ("hardware_in_place", CODE),
    "recorded_on": ("recorded_at", INSTANT),
}


def motion(cases: pd.DataFrame, reviews: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    """Read motion up to a day, one row for each movement of an exam that has a value or says why not.

    value_deg for movements in degrees; for internal rotation level (the landmark) and level_rank, its
    place from 0, the lowest, to 5: it is ordered and no angle. `missing` is '' where there is a value.
    """
    rows = MotionExam.objects.filter(examined_on__lte=cutoff).order_by("examined_on", "id")
    exams = until_choice(of_index(table(rows, EXAMS), cases), cases, "examined_on", "recorded_on")
    exams = _with_day(exams, "examined_on", cases)
    injured = cases["side"].reindex(exams["procedure_id"]).to_numpy()
    sides = np.where(exams["side"].to_numpy() == injured, "injured", "other")
    exams["side"] = codes(sides)
    exams = with_step(exams, "examined_on", reviews)
    parts = [_movement(exams, name) for name in (*DEGREES, ROTATION)]
    frame = pd.concat(parts, ignore_index=True)
    frame = frame.sort_values(["examined_on", "exam_id", "movement"], ignore_index=True)
    return frame.assign(**{name: codes(frame[name]) for name in ("movement", "level", "missing")})


def _movement(exams: pd.DataFrame, name: str) -> pd.DataFrame:
    kept = ["exam_id", "procedure_id", "examined_on", "day", "step", "horizon", "in_window"]
    frame = exams[[*kept, "side", "mode"]].copy()
    frame["movement"] = pd.Categorical([name] * len(exams), sorted((*DEGREES, ROTATION)))
    if name == ROTATION:
        level = exams[name].where(exams[name] != "")
        frame["value_deg"] = np.nan
        given = level
    else:
        level = pd.Series(pd.NA, index=exams.index, dtype="str")
        frame["value_deg"] = exams[name]
        given = exams[name]
    frame["level"] = level
    frame["level_rank"] = level.map(LEVELS).astype("Int64")
    stated = exams[f"{name}_missing"]
    frame["missing"] = why_missing(given, stated)
    return frame.loc[given.notna() | stated.notna()]


def scores(cases: pd.DataFrame, reviews: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    """Read completed instruments up to a day; total is NaN where it could not be computed."""
    rows = Score.objects.filter(taken_on__lte=cutoff).order_by("taken_on", "instrument", "id")
    frame = of_index(table(rows, SCORES), cases)
    frame = until_choice(frame, cases, "answered_on", "recorded_on").drop(columns="recorded_on")
    return with_step(_with_day(frame, "answered_on", cases), "answered_on", reviews)


def _with_day(frame: pd.DataFrame, name: str, cases: pd.DataFrame) -> Any:
    operated = cases["performed_on"].reindex(frame["procedure_id"]).to_numpy()
    return frame.assign(day=days_after(frame[name], operated))
