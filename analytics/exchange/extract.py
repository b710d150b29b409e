"""An extract for research: the data set's tables with the pseudonyms and days of one project.

Equal rows, plan and secret give equal files. No key, no number of the database and no true day is in it.
"""

from collections.abc import Mapping
from datetime import date
from typing import Any

import pandas as pd

from analytics.exchange import dataset
from analytics.rules import extracts, pseudonyms
from analytics.rules.extracts import MONTH, QUARTER, Plan
from analytics.selectors.frames import Frames


def tables(frames: Frames, cases: pd.DataFrame, plan: Plan) -> dict[str, pd.DataFrame]:
    """Return the chosen tables and columns of some cases as they may leave for a project."""
    whole = dataset.tables(frames, cases, _naming(plan))
    whole["cases"]["performed_day"] = pd.array([0] * len(cases), dtype="Int64")
    days = _days(cases, plan)
    made = {}
    for name, columns in extracts.entries(plan.columns, plan.dates, plan.ages).items():
        frame = _told(whole[name], columns, days, plan)
        # By pseudonym, so that the order tells nothing of how rows are stored.
        made[name] = frame.sort_values(list(frame.columns), ignore_index=True, key=_plain)
    return made


def packed(made: Mapping[str, pd.DataFrame], about: Mapping[str, Any], plan: Plan) -> bytes:
    """Return a ZIP of the tables as CSV, with their dictionary and what it was made from."""
    listed = extracts.entries(plan.columns, plan.dates, plan.ages)
    return dataset.packed(
        made, about, entries=[one for columns in listed.values() for _, one in columns]
    )


def _naming(plan: Plan) -> dataset.Naming:
    def name(kind: str, keys: Any) -> "pd.Series[Any]":
        made = [pseudonyms.pseudonym(plan.key, kind, str(key)) for key in keys]
        return pd.Series(made, index=pd.Index(keys), dtype="str")

    return name


def _days(cases: pd.DataFrame, plan: Plan) -> "pd.Series[Any]":
    """Return by a case's pseudonym the day of the operation as the project counts from it."""
    named = _naming(plan)("case", cases.index).array
    days = cases["performed_on"]
    if plan.dates not in (MONTH, QUARTER):
        back = [pseudonyms.days_back(plan.key, str(key)) for key in cases["patient_key"]]
        days = days - pd.to_timedelta(back, unit="D")
    return pd.Series(days.array, index=pd.Index(named))


def _told(
    frame: pd.DataFrame, columns: list[tuple[str, Any]], days: "pd.Series[Any]", plan: Plan
) -> pd.DataFrame:
    made = {}
    for name, entry in columns:
        values = frame[name]
        if entry.kind in extracts.KINDS.values():
            values = _dated(values, days.reindex(frame["case"]).array, plan)
        elif entry.name == "age_band":
            values = values.map(pseudonyms.band_of, na_action="ignore").astype("str")
        made[entry.name] = values
    return pd.DataFrame(made, columns=[entry.name for _, entry in columns])


def _dated(values: "pd.Series[Any]", operated: Any, plan: Plan) -> "pd.Series[Any]":
    """Write days since the operation as the project tells a day; what is missing stays missing."""
    counted = pd.to_timedelta(pd.to_numeric(values, errors="coerce").astype("Float64"), unit="D")
    moments = pd.Series(operated, index=values.index) + counted
    write = {MONTH: pseudonyms.month_of, QUARTER: pseudonyms.quarter_of}.get(plan.dates, _iso)
    return moments.map(lambda moment: write(moment.date()), na_action="ignore").astype("str")


def _iso(day: date) -> str:
    return day.isoformat()


def _plain(values: "pd.Series[Any]") -> "pd.Series[Any]":
    return values.astype("str") if isinstance(values.dtype, pd.CategoricalDtype) else values
