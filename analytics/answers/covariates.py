"""What a comparison can be adjusted for, and the columns that stand for it in a model."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import pandas as pd

UNKNOWN = ("unknown", "not_recorded", "not_done", "")


@dataclass(frozen=True)
class Covariate:
    """A column of the cases: a number counted in `unit` steps, or codes against the commonest."""

    code: str
    words: str
    unit: float | None = None


COVARIATES: dict[str, Covariate] = {
    row.code: row
    for row in (
        Covariate("age_years", "age, per 10 years", 10.0),
        Covariate("sex", "sex"),
        Covariate("smoking", "smoking"),
        Covariate("diabetes", "diabetes"),
        Covariate("bmi_kg_m2", "body mass index, per 5 kg/m²", 5.0),
        Covariate("energy", "energy of the injury"),
        Covariate("skin", "open or closed"),
        Covariate("injury_kind", "fracture or joint"),
        Covariate("neer", "Neer class"),
        Covariate("rockwood", "Rockwood class"),
        Covariate("days_to_surgery", "days to surgery, per week", 7.0),
        Covariate("injured_dominant", "dominant side injured"),
        Covariate("sport_demand", "demand of sport"),
        Covariate("operator_grade", "operator's grade"),
    )
}


@dataclass(frozen=True)
class Design:
    """The columns of a model, for the cases in which everything asked for is known.

    `terms` says in words what each column is; `left_out` counts the cases that lack each covariate,
    one that lacks two under both.
    """

    columns: pd.DataFrame
    terms: dict[str, str]
    left_out: dict[str, int]


def design(cases: pd.DataFrame, names: Iterable[str]) -> Design:
    """Return the columns for some covariates; cases that lack one are left out and counted.

    Codes become one column each against the commonest code; a code that nobody has gives none.
    Raises ValueError when there is no such covariate, or when the cases lack its column.
    """
    asked = [_covariate(name, cases) for name in names]
    values = {one.code: _values(cases[one.code], one) for one in asked}
    known = pd.Series(data=True, index=cases.index)
    for column in values.values():
        known &= column.notna()
    columns, terms = pd.DataFrame(index=cases.index[known]), {}
    for one in asked:
        for name, words, column in _columns(values[one.code][known], one):
            columns[name], terms[name] = column, words
    lacking = {one.words: int(values[one.code].isna().sum()) for one in asked}
    return Design(columns, terms, {words: count for words, count in lacking.items() if count})


def _covariate(name: str, cases: pd.DataFrame) -> Covariate:
    if name not in COVARIATES:
        raise ValueError(f"'{name}' is not one of {', '.join(COVARIATES)}")
    if name not in cases.columns:
        raise ValueError(f"cases have no column '{name}' to adjust for")
    return COVARIATES[name]


def _values(column: "pd.Series[Any]", one: Covariate) -> "pd.Series[Any]":
    if one.unit is not None:
        return pd.to_numeric(column, errors="coerce").astype("float64") / one.unit
    codes = column.astype("object")
    return codes.where(codes.notna() & ~codes.isin(UNKNOWN), None)


def _columns(values: "pd.Series[Any]", one: Covariate) -> list[tuple[str, str, "pd.Series[Any]"]]:
    if one.unit is not None:
        return [(one.code, one.words, values)] if values.nunique() > 1 else []
    counts = values.value_counts()
    if counts.empty:
        return []
    # Of two codes as common as each other the first by name, so that one view has one model.
    commonest = sorted(counts.index[counts == counts.max()])[0]
    return [
        (f"{one.code}={code}", f"{one.words}: {code} against {commonest}", (values == code) * 1.0)
        for code in sorted(counts.index)
        if code != commonest
    ]
