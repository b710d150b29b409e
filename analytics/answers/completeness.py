"""How well do we follow? Reviewed at each step, person-time observed, and lost for each failure."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analytics.answers import flow, horizons
from analytics.answers.horizons import Horizon
from analytics.answers.outcomes import ALL, groups_of
from analytics.endpoints.definition import Applied
from analytics.estimators.completeness import lost_to_failure, person_time_completeness
from analytics.estimators.proportions import wilson
from analytics.estimators.results import Estimate

DAYS_A_YEAR = 365.25
# A review that ended so was not to be held any more: nobody stayed away from it.
FALLEN_AWAY = ("death", "revision", "removal", "protocol", "not_needed")
# Steps stand in the order of their distance from the operation.
DONE = ("done_in_window", "done_outside")


@dataclass(frozen=True)
class Share:
    """So many of so many, with Wilson's interval; None of nobody."""

    number: int
    of: int

    @property
    def estimate(self) -> Estimate | None:
        """The share with its interval."""
        return wilson(self.number, self.of) if self.of else None


@dataclass(frozen=True)
class PersonTime:
    """Years observed and years that could have been; `share` is Clark's C, None without any."""

    observed_years: float
    potential_years: float
    share: float | None


@dataclass(frozen=True)
class GroupRow:
    """Completeness of one group, three ways.

    `reviewed` has for each step those attended of those whose window is over. `lost` counts those
    who were not seen, or not filmed, at the horizon; `quotient` is that for each failure seen.
    """

    group: str
    operated: int
    reviewed: dict[str, Share]
    person_time: PersonTime
    lost: int
    failures: int
    quotient: float | None

    @property
    def more_lost_than_failed(self) -> bool:
        """Whether more are lost than are known to have failed."""
        return self.lost > self.failures


def answer(
    applied: Applied,
    cases: pd.DataFrame,
    reviews: pd.DataFrame,
    horizon: Horizon,
    cutoff: pd.Timestamp,
    by: str,
) -> tuple[GroupRow, ...]:
    """Return completeness by a column of the cases, and of all together in the last row."""
    placed = flow.places(applied, cases, horizon, cutoff)
    times = person_times(applied, cases, horizon, cutoff)
    counted = due_reviews(reviews, cutoff)
    steps = steps_of(counted, cases)
    groups = groups_of(cases, by)
    named = [(str(name), members.index) for name, members in cases.groupby(groups, sort=True)]
    return tuple(
        _row(name, keys, placed.loc[keys], times.loc[keys], counted, steps)
        for name, keys in [*named, (ALL, cases.index)]
    )


def due_reviews(reviews: pd.DataFrame, cutoff: pd.Timestamp) -> pd.DataFrame:
    """Return the reviews whose window is over and which were to be held.

    While a window is open only those who came early could be counted, which would flatter.
    """
    over = reviews["closes_on"] < cutoff
    return reviews.loc[over & ~reviews["way"].isin(FALLEN_AWAY)]


def steps_of(reviews: pd.DataFrame, cases: pd.DataFrame) -> list[str]:
    """Return the steps of some reviews by their usual distance from the operation."""
    operated = cases["performed_on"].reindex(reviews["procedure_id"]).to_numpy()
    far = pd.Series((reviews["due_on"].to_numpy() - operated) / np.timedelta64(1, "D"))
    middle = far.groupby(reviews["step"].astype(str).to_numpy()).median()
    return [str(step) for step in middle.sort_values(kind="stable").index]


def person_times(
    applied: Applied, cases: pd.DataFrame, horizon: Horizon, cutoff: pd.Timestamp
) -> pd.DataFrame:
    """Return the observed and the potential days of each case up to the horizon.

    The potential ends with the horizon, the cut-off, the event, a revision or death, whichever came
    first. A case is observed up to there where the end is such a happening, else up to the last day
    on which it was seen.
    """
    died = np.where(
        (cases["patient_status"] == "died").to_numpy(),
        cases["status_on"].to_numpy(),
        np.datetime64("NaT", "ns"),
    )
    happened = np.fmin(
        np.fmin(applied.verdicts["event_on"].to_numpy(), cases["revised_on"].to_numpy()), died
    )
    due = horizons.due_on(cases, horizon).to_numpy()
    end = np.fmin(np.minimum(due, cutoff.to_numpy()), happened)
    operated = cases["performed_on"].to_numpy()
    seen = np.fmax(cases["last_seen_on"].to_numpy(), operated)
    until = np.where(end == happened, end, np.fmin(seen, end))
    day = np.timedelta64(1, "D")
    potential = np.maximum((end - operated) / day, 0.0)
    observed = np.clip((until - operated) / day, 0.0, potential)
    return pd.DataFrame({"observed": observed, "potential": potential}, index=cases.index)


def _row(
    name: str,
    keys: pd.Index,
    placed: pd.DataFrame,
    times: pd.DataFrame,
    counted: pd.DataFrame,
    steps: list[str],
) -> GroupRow:
    mine = counted.loc[counted["procedure_id"].isin(keys)]
    gone = int(flow.lost(placed).sum())
    failures = int((placed["end"] == "event").sum())
    return GroupRow(
        group=name,
        operated=len(keys),
        reviewed={step: _reviewed(mine.loc[mine["step"] == step]) for step in steps},
        person_time=_person_time(times),
        lost=gone,
        failures=failures,
        quotient=lost_to_failure(gone, failures),
    )


def _reviewed(rows: pd.DataFrame) -> Share:
    return Share(int(rows["way"].isin(DONE).sum()), len(rows))


def _person_time(times: pd.DataFrame) -> PersonTime:
    observed, potential = (float(times[name].sum()) for name in ("observed", "potential"))
    share = (
        person_time_completeness(times["observed"].to_numpy(), times["potential"].to_numpy())
        if potential
        else None
    )
    return PersonTime(observed / DAYS_A_YEAR, potential / DAYS_A_YEAR, share)


def to_rows(rows: tuple[GroupRow, ...]) -> list[dict[str, object]]:
    """Return the table as plain rows; shares, not percentages."""
    return [_plain(row) for row in rows]


def _plain(row: GroupRow) -> dict[str, object]:
    steps: dict[str, object] = {}
    for step, share in row.reviewed.items():
        steps[f"reviewed_{step}"] = share.number
        steps[f"due_{step}"] = share.of
    return {
        "group": row.group,
        "operated": row.operated,
        **steps,
        "observed_years": round(row.person_time.observed_years, 3),
        "potential_years": round(row.person_time.potential_years, 3),
        "person_time_completeness": row.person_time.share,
        "lost": row.lost,
        "failures": row.failures,
        "lost_to_failure": row.quotient,
    }
