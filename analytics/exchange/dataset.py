"""The analysis data set: frames without anything that says who, as files with their dictionary.

Patients, cases, films, readers, surgeons and sites get numbers of this export alone, in a random
order, so that two exports cannot be joined. Days count from the operation; its year and quarter stay.
"""

import csv
import io
import json
import zipfile
from collections.abc import Callable, Mapping, Sequence
from random import SystemRandom
from typing import Any

import pandas as pd

from analytics.exchange import parquet
from analytics.rules.dictionary import ENTRIES, TABLES, Entry, columns_of
from analytics.selectors.frames import Frames
from registry.exchange import sheets

OLDEST = 90
KINDS = ("csv", "parquet")
# Made long ago, so that equal content gives equal files.
NO_DAY = (1980, 1, 1, 0, 0, 0)
NUMBERED = {"film_id": "film", "reader_id": "reader"}
# From a kind of thing and its keys to what stands for each.
Naming = Callable[[str, Any], "pd.Series[Any]"]


def numbers(kind: str, keys: Any) -> "pd.Series[Any]":
    """Return a number from 1 for each key, in a random order that nobody can repeat."""
    order = list(range(1, len(keys) + 1))
    SystemRandom().shuffle(order)
    return pd.Series(order, index=pd.Index(keys), dtype="Int64")


def tables(
    frames: Frames, cases: pd.DataFrame, naming: Naming = numbers
) -> dict[str, pd.DataFrame]:
    """Return the tables of the chosen cases, pseudonymised: only columns that the dictionary has."""
    named = naming("case", cases.index)
    made = {"cases": _cases(cases, named, naming)}
    told: dict[str, pd.Series[Any]] = {}
    for name in TABLES[1:]:
        frame = getattr(frames, name)
        if frame.empty:
            # A snapshot of an earlier version lacks the table, and with it the columns.
            made[name] = pd.DataFrame(columns=list(columns_of(name)))
            continue
        owner = "index_id" if "index_id" in frame else "procedure_id"
        mine = frame.loc[frame[owner].isin(cases.index)]
        made[name] = _table(mine, owner, cases["performed_on"], named, name, naming, told)
    return made


def packed(
    made: Mapping[str, pd.DataFrame],
    about: Mapping[str, Any],
    kind: str = "csv",
    entries: Sequence[Entry] = ENTRIES,
) -> bytes:
    """Return a ZIP of the tables with the dictionary as JSON and CSV, and what it was made from.

    Raises ValueError for a kind of file that is none of KINDS.
    """
    if kind not in KINDS:
        raise ValueError(f"'{kind}' is no kind of file; there are {', '.join(KINDS)}")
    dictionary = [one.row() for one in entries]
    files = {
        f"{name}.{kind}": _csv(frame).encode() if kind == "csv" else parquet.packed(frame)
        for name, frame in made.items()
    }
    files["dictionary.csv"] = _csv(pd.DataFrame(dictionary)).encode()
    files["dictionary.json"] = json.dumps(dictionary, indent=1).encode()
    files["about.json"] = json.dumps(dict(about), indent=1).encode()
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name, NO_DAY), content, zipfile.ZIP_DEFLATED)
    return target.getvalue()


def _cases(cases: pd.DataFrame, named: "pd.Series[Any]", naming: Naming) -> pd.DataFrame:
    frame = _with_days(cases.reset_index(), cases["performed_on"].reset_index(drop=True))
    for column, name in (("patient_key", "patient"), ("site", "site"), ("surgeon_id", "surgeon")):
        keys = cases[column].dropna().unique()
        frame[name] = naming(name, keys).reindex(cases[column]).array
    frame["case"] = named.reindex(cases.index).array
    frame["procedure_quarter"] = cases["performed_on"].dt.quarter.array
    frame["age_years"] = frame["age_years"].clip(upper=OLDEST)
    return _ordered(frame, "cases")


def _table(
    frame: pd.DataFrame,
    owner: str,
    operated: "pd.Series[Any]",
    named: "pd.Series[Any]",
    name: str,
    naming: Naming,
    told: "dict[str, pd.Series[Any]]",
) -> pd.DataFrame:
    """Return one table; `told` keeps the numbers of films and readers for the tables after it."""
    frame = frame.reset_index(drop=True)
    made = _with_days(frame, operated.reindex(frame[owner]).reset_index(drop=True))
    for column, called in NUMBERED.items():
        if column in frame:
            # Findings are of films in the readings, which come before them.
            if column not in told:
                told[column] = naming(called, frame[column].unique())
            made[called] = told[column].reindex(frame[column]).array
    made["case"] = named.reindex(frame[owner]).array
    return _ordered(made, name)


def _with_days(frame: pd.DataFrame, operated: "pd.Series[Any]") -> pd.DataFrame:
    """Put for every date the days since the operation in its place."""
    made = frame.copy()
    for column in frame.select_dtypes("datetime"):
        days = (frame[column] - operated).dt.days.astype("Int64")
        name = str(column).removesuffix("_on")
        made[f"{name}_day"] = days
    return made.drop(columns=list(frame.select_dtypes("datetime")))


def _ordered(frame: pd.DataFrame, name: str) -> pd.DataFrame:
    """Keep what the dictionary has, in an order that tells nothing of how the rows were stored."""
    columns = list(columns_of(name))
    frame = frame.reindex(columns=columns)
    return frame.sort_values(columns, ignore_index=True, key=_plain)


def _plain(values: "pd.Series[Any]") -> "pd.Series[Any]":
    return values.astype("str") if isinstance(values.dtype, pd.CategoricalDtype) else values


def _csv(frame: pd.DataFrame) -> str:
    target = io.StringIO()
    plain = frame.astype(object).where(frame.notna(), "")
    writer = csv.writer(target, lineterminator="\n")
    writer.writerow(frame.columns)
    writer.writerows(
        [sheets.guarded(str(cell)) for cell in row] for row in plain.itertuples(index=False)
    )
    return target.getvalue()
