"""Reviews, scores and motion as frames, like `cohort` for cases. Days count from the operation."""

from typing import Any

import pandas as pd

from tests.analytics.cohort import on

STEPS = {"6w": (42, 14, 14), "3m": (91, 21, 21), "12m": (365, 60, 90)}
REVIEW: dict[str, Any] = {
    "review_id": 0,
    "procedure_id": 1,
    "step": "12m",
    "horizon": "12m",
    "way": "done_in_window",
    "scores_required": "pain_nrs",
    "opens_on": None,
    "due_on": None,
    "closes_on": None,
    "attended_on": None,
    "entered_on": None,
}
SCORE: dict[str, Any] = {
    "score_id": 0,
    "procedure_id": 1,
    "instrument": "pain_nrs",
    "answered_on": None,
    "day": 365,
    "step": "12m",
    "horizon": "12m",
    "in_window": True,
    "total": 2.0,
    "mode": "clinic",
    "hardware_in_place": "yes",
}
MOTION: dict[str, Any] = {
    "exam_id": 0,
    "procedure_id": 1,
    "examined_on": None,
    "day": 365,
    "step": "12m",
    "horizon": "12m",
    "in_window": True,
    "side": "injured",
    "mode": "active",
    "movement": "flexion",
    "value_deg": None,
    "level": None,
    "level_rank": None,
    "missing": "",
}


def review(way: str = "done_in_window", step: str = "12m", **values: Any) -> dict[str, Any]:
    """Return a review of case 1; one that was done was attended on its due day, or ten days after."""
    due, before, after = STEPS[step]
    day = {"done_in_window": due + 10, "done_outside": due + after + 30}.get(way)
    came = None if day is None else on(values.pop("day", day))
    return {
        **REVIEW,
        "step": step,
        "horizon": step,
        "way": way,
        "opens_on": on(due - before),
        "due_on": on(due),
        "closes_on": on(due + after),
        "attended_on": came,
        "entered_on": came,
        **values,
    }


def score(total: float | None = 2.0, step: str = "12m", **values: Any) -> dict[str, Any]:
    """Return a pain score of case 1, given on the day its step is due."""
    day = values.pop("day", STEPS[step][0])
    dated = {"day": day, "answered_on": on(day), "step": step, "horizon": step}
    return {**SCORE, **dated, "total": total, **values}


def motion(value: float | None = 150, step: str = "12m", **values: Any) -> dict[str, Any]:
    """Return active flexion of the injured side of case 1, on the day its step is due."""
    day = values.pop("day", STEPS[step][0])
    dated = {"day": day, "examined_on": on(day), "step": step, "horizon": step}
    return {**MOTION, **dated, "value_deg": value, **values}


def reviews(rows: list[dict[str, Any]]) -> pd.DataFrame:
    return _frame(rows, REVIEW, "review_id")


def scores(rows: list[dict[str, Any]]) -> pd.DataFrame:
    frame = _frame(rows, SCORE, "score_id").astype({"total": float})
    return frame.astype(dict.fromkeys(("instrument", "mode", "hardware_in_place"), "category"))


def motions(rows: list[dict[str, Any]]) -> pd.DataFrame:
    frame = _frame(rows, MOTION, "exam_id").astype({"value_deg": float, "level_rank": "Int64"})
    return frame.astype(dict.fromkeys(("side", "mode", "movement", "level"), "category"))


def _frame(rows: list[dict[str, Any]], blank: dict[str, Any], key: str) -> pd.DataFrame:
    numbered = [{**row, key: number} for number, row in enumerate(rows, 1)]
    frame = pd.DataFrame(numbered, columns=list(blank))
    for name in blank:
        if name.endswith("_on"):
            frame[name] = pd.to_datetime(frame[name]).astype("datetime64[ns]")
    return frame.astype({"step": "category", "horizon": "category"})
