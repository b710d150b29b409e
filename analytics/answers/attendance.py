"""How each planned review ended, and how late: by step, site or month; the sums agree."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from analytics.answers.completeness import DONE, steps_of
from analytics.estimators.change import Spread, spread

# Every way in which a planned review can stand, as the daily sums of the service call them.
WAYS: dict[str, str] = {
    "done_in_window": "done in window",
    "done_outside": "done outside it",
    "missed": "missed",
    "lapsed": "lapsed",
    "not_needed": "not needed",
    "death": "died",
    "withdrawal": "withdrew",
    "moved": "moved away",
    "revision": "revised",
    "removal": "hardware removed",
    "protocol": "protocol changed",
    "open": "open",
}
LATER = "later"
BY = {"step": "step", "site": "site", "month": "month in which it was due"}


@dataclass(frozen=True)
class Line:
    """The planned reviews of one step, site or month.

    `late` are days from the due day to the visit (below 0: early), `entered` days from the visit to
    the last entry, both of those done. `cases` has the keys behind each way.
    """

    label: str
    planned: int
    counts: Mapping[str, int]
    late: Spread | None
    entered: Spread | None
    cases: Mapping[str, tuple[int, ...]]

    @property
    def difference(self) -> int:
        """How many planned reviews stand in no known way; it ought to be 0."""
        return self.planned - sum(self.counts.values())


def lines(
    reviews: pd.DataFrame, cases: pd.DataFrame, by: str, cutoff: pd.Timestamp
) -> tuple[Line, ...]:
    """Return a line for each step (by its distance), site or month, and one of all.

    Months end with the cut-off; what is due after it is one line, 'later'. Raises ValueError for another way to divide them.
    """
    if by not in BY:
        raise ValueError(f"reviews are shown by {', '.join(BY)}, not by '{by}'")
    labels = _labels(reviews, cases, by, cutoff)
    order = steps_of(reviews, cases) if by == "step" else sorted(set(labels))
    parts = [(label, reviews.loc[labels == label]) for label in order]
    return tuple(_line(label, rows) for label, rows in [*parts, ("all", reviews)])


def _labels(
    reviews: pd.DataFrame, cases: pd.DataFrame, by: str, cutoff: pd.Timestamp
) -> "pd.Series[str]":
    if by == "site":
        sites = cases["site"].reindex(reviews["procedure_id"]).to_numpy()
        return pd.Series(sites, index=reviews.index, dtype=object).astype(str)
    if by == "month":
        months: pd.Series[str] = reviews["due_on"].dt.strftime("%Y-%m")
        return months.where(reviews["due_on"] <= cutoff, LATER)
    return reviews["step"].astype(str)


def _line(label: str, rows: pd.DataFrame) -> Line:
    ways = rows["way"].astype(str).to_numpy()
    keys = rows["procedure_id"].to_numpy()
    done = rows.loc[np.isin(ways, DONE)]
    return Line(
        label=label,
        planned=len(rows),
        counts={way: int((ways == way).sum()) for way in WAYS},
        late=_days(done["due_on"], done["attended_on"]),
        entered=_days(done["attended_on"], done["entered_on"]),
        cases={way: tuple(dict.fromkeys(keys[ways == way].tolist())) for way in WAYS},
    )


def _days(since: "pd.Series[pd.Timestamp]", until: "pd.Series[pd.Timestamp]") -> Spread | None:
    return spread(((until - since) / pd.Timedelta(days=1)).to_numpy(dtype=float))


PLANNED = "planned"


def behind(line: Line) -> dict[str, tuple[int, ...]]:
    """Return the keys behind each number of a line: each way, and all that were planned."""
    every = dict.fromkeys(key for keys in line.cases.values() for key in keys)
    return {**line.cases, PLANNED: tuple(every)}


def code(by: str, label: str, way: str) -> str:
    """Return by which word in an address a number of a line is opened."""
    return f"{label}:{way}" if by == "step" else f"{by}:{label}:{way}"


def words(by: str, label: str, way: str) -> str:
    """Say what a number of a line counts."""
    done = WAYS.get(way, way)
    if label == "all":
        return f"{done} at any step"
    if label == LATER:
        return f"{done}, due after the last day of the data"
    where = {"step": "at step", "site": "at site", "month": "due in"}[by]
    return f"{done} {where} {label}"


def to_rows(found: Mapping[str, tuple[Line, ...]]) -> list[dict[str, object]]:
    """Return the lines of each way to divide them as plain rows."""
    return [
        {
            "by": by,
            "line": line.label,
            "planned": line.planned,
            **line.counts,
            "difference": line.difference,
            "median_days_late": line.late.median if line.late else None,
            "median_days_to_entry": line.entered.median if line.entered else None,
        }
        for by, some in found.items()
        for line in some
    ]
