"""Rows of the database as columns of one kind each, without a step for every row in between."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import numpy as np
import pandas as pd

# What a column holds: whole numbers without and with gaps, numbers with gaps, text (NaN where there
# is none), the same from few codes, days, the day of an instant (UTC), true or false.
WHOLE, WHOLE_OR_NONE, NUMBER = "int64", "Int64", "float64"
TEXT, CODE, DAY, INSTANT, FLAG = "str", "category", "day", "instant", "bool"
Columns = Mapping[str, tuple[str, str]]


def table(rows: Any, columns: Columns) -> pd.DataFrame:
    """Return a queryset's rows as a frame: `columns` says of each its path and its kind.

    One query. Lengths stored as decimals become floats. Raises ValueError for a kind that is none.
    """
    found = list(rows.values_list(*(path for path, _ in columns.values())))
    parts = list(zip(*found, strict=True)) if found else [()] * len(columns)
    made = {
        name: _column(values, kind)
        for (name, (_, kind)), values in zip(columns.items(), parts, strict=True)
    }
    return pd.DataFrame(made)


def _column(values: tuple[Any, ...], kind: str) -> Any:
    if kind == DAY:
        return np.array(values, dtype="datetime64[D]").astype("datetime64[ns]")
    if kind == INSTANT:
        moments = pd.to_datetime(pd.Series(values, dtype=object), utc=True)
        return moments.dt.tz_localize(None).dt.normalize().astype("datetime64[ns]")
    if kind == CODE:
        return codes(values)
    named: Any = kind
    if kind in (TEXT, WHOLE_OR_NONE):
        return pd.array(values, dtype=named)
    if kind in (WHOLE, NUMBER, FLAG):
        return np.array(values, dtype=named)
    raise ValueError(f"'{kind}' is not a kind of column")


def codes(values: Any) -> pd.Categorical:
    """Return text of few different values as codes, in the order of the alphabet."""
    return pd.Categorical(pd.array(np.asarray(values, dtype=object), dtype="str"))


def days_after(days: Any, since: Any) -> Any:
    """Return whole days between two columns of days that have no gap."""
    return ((days - since) // timedelta(days=1)).astype("int64")


def until_of(frame: pd.DataFrame, cases: pd.DataFrame) -> "pd.Series[Any]":
    """Return for each row until which day its patient lets anything count; NaT where that is for good.

    The frame has procedure_id; cases without `counts_until` are those of a look at a patient's own case.
    """
    if "counts_until" not in cases:
        return pd.Series(pd.NaT, index=frame.index, dtype="datetime64[ns]")
    found = cases["counts_until"].reindex(frame["procedure_id"])
    return found.set_axis(frame.index)


def until_choice(frame: pd.DataFrame, cases: pd.DataFrame, *days: str) -> pd.DataFrame:
    """Leave out what a patient does not want counted any more: what any of some days puts after theirs."""
    until = until_of(frame, cases)
    late = pd.Series(data=False, index=frame.index)
    for day in days:
        # Nothing is later than a day that is not there.
        late |= frame[day] > until
    return frame.loc[~late].reset_index(drop=True)


def of_index(frame: pd.DataFrame, cases: pd.DataFrame) -> pd.DataFrame:
    """Put the index procedure in the place of each row's injury; rows without one are left out."""
    index = pd.Series(cases.index, index=cases["injury_id"], dtype="Int64")
    found = index.reindex(frame["injury_id"]).to_numpy(dtype="float64", na_value=np.nan)
    keep = ~np.isnan(found)
    frame = frame.loc[keep].drop(columns="injury_id")
    frame.insert(1, "procedure_id", found[keep].astype("int64"))
    return frame.reset_index(drop=True)
