"""How much went wrong: patients and events of each kind, by grade, person-time and time to the first."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from analytics.answers.outcomes import ALL, groups_of
from analytics.endpoints.catalogue import HARM_KINDS
from analytics.endpoints.definition import Data
from analytics.estimators.proportions import wilson
from analytics.estimators.rates import poisson_rate
from analytics.estimators.results import Estimate

DAYS_A_YEAR = 365.25
GRADES = ("I", "II", "III", "IVa", "IVb", "V", "unknown")
ANY = "any"


@dataclass(frozen=True)
class Burden:
    """One kind in one group over all the time that its patients were seen.

    `patients` are index procedures with at least one; `events` count each. `share` is patients of
    operated; `per_100` events per 100 procedures and `per_100_years` per 100 person-years, with the
    exact Poisson interval. `quartiles` are days to the first event among those with one.
    """

    kind: str
    name: str
    group: str
    operated: int
    patients: int
    events: int
    years: float
    share: Estimate | None
    per_100: Estimate | None
    per_100_years: Estimate | None
    grades: Mapping[str, int] = field(default_factory=dict)
    quartiles: tuple[float, float, float] | None = None


def answer(data: Data, *, by: str = "construct_type") -> tuple[Burden, ...]:
    """Count every kind that somebody had, and any, over all groups and then in each.

    Raises ValueError when the cases have no such column to group by.
    """
    if by not in data.cases.columns:
        raise ValueError(f"cases have no column '{by}' to group by")
    groups = groups_of(data.cases, by).astype(str)
    events = _events(data, groups)
    years = _years(data, events)
    counts = groups.value_counts().sort_index()
    sizes = {ALL: len(groups), **{str(name): int(number) for name, number in counts.items()}}
    watched = {ALL: float(years.sum()), **years.groupby(groups).sum().to_dict()}
    rows = []
    for kind, name in ((ANY, "Any complication"), *HARM_KINDS.items()):
        mine = events if kind == ANY else events.loc[events["kind"] == kind]
        for group, operated in sizes.items():
            some = mine if group == ALL else mine.loc[mine["group"] == group]
            if kind == ANY or len(some):
                rows.append(_burden(kind, name, group, operated, watched[group], some))
    return tuple(rows)


def _events(data: Data, groups: "pd.Series[Any]") -> pd.DataFrame:
    found = data.complications[["procedure_id", "kind", "grade"]].copy()
    on = data.complications["onset_on"].fillna(data.complications["detected_on"])
    operated = data.cases["performed_on"].reindex(found["procedure_id"]).to_numpy()
    found["day"] = np.maximum((on.to_numpy() - operated) / np.timedelta64(1, "D"), 0.0)
    found["group"] = groups.reindex(found["procedure_id"]).to_numpy()
    return found


def _years(data: Data, events: pd.DataFrame) -> "pd.Series[Any]":
    """Return for each case the years until it was last seen, or had its last event."""
    seen = (data.cases["last_seen_on"] - data.cases["performed_on"]).dt.days
    last = events.groupby("procedure_id")["day"].max().reindex(data.cases.index)
    days = pd.concat([seen, last], axis=1).max(axis=1).fillna(0.0).clip(lower=0.0)
    return days / DAYS_A_YEAR


def _burden(
    kind: str, name: str, group: str, operated: int, years: float, events: pd.DataFrame
) -> Burden:
    number, patients = len(events), int(events["procedure_id"].nunique())
    first = events.groupby("procedure_id")["day"].min()
    grades = events["grade"].value_counts()
    quartiles = tuple(float(day) for day in first.quantile([0.25, 0.5, 0.75])) if patients else None
    return Burden(
        kind=kind,
        name=name,
        group=group,
        operated=operated,
        patients=patients,
        events=number,
        years=years,
        share=wilson(patients, operated) if operated else None,
        per_100=poisson_rate(number, operated / 100) if operated else None,
        per_100_years=poisson_rate(number, years / 100) if years > 0 else None,
        grades={grade: int(grades[grade]) for grade in GRADES if grade in grades},
        quartiles=quartiles,  # type: ignore[arg-type]
    )


def to_rows(rows: tuple[Burden, ...]) -> list[dict[str, Any]]:
    """Return plain rows for a file; one column a grade."""
    return [
        {
            "kind": row.kind,
            "group": row.group,
            "operated": row.operated,
            "patients": row.patients,
            "events": row.events,
            "person_years": round(row.years, 3),
            **_ends("share", row.share),
            **_ends("per_100_procedures", row.per_100),
            **_ends("per_100_person_years", row.per_100_years),
            **dict(
                zip(("day_q1", "day_median", "day_q3"), row.quartiles or [None] * 3, strict=True)
            ),
            **{f"grade_{grade}": row.grades.get(grade, 0) for grade in GRADES},
        }
        for row in rows
    ]


def _ends(name: str, value: Estimate | None) -> dict[str, float | None]:
    return {
        name: value.estimate if value else None,
        f"{name}_low": value.low if value else None,
        f"{name}_high": value.high if value else None,
    }
