"""How each planned review ended, and how late: by step, site or month; the sums agree."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

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
Rows = NDArray[np.intp]
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
    facts = _facts_of(reviews)
    places, found = pd.factorize(_labels(reviews, cases, by, cutoff))
    # The rows of each label, in their order: the frame itself is never cut.
    sorted_places = np.argsort(places, kind="stable")
    ends = np.searchsorted(places[sorted_places], np.arange(len(found) + 1))
    rows_of = {
        str(label): sorted_places[ends[place] : ends[place + 1]]
        for place, label in enumerate(found)
    }
    order = steps_of(reviews, cases) if by == "step" else sorted(rows_of)
    nobody = sorted_places[:0]
    parts: list[tuple[str, Rows]] = [
        (str(label), rows_of.get(str(label), nobody)) for label in order
    ]
    return tuple(
        _line(label, facts, rows) for label, rows in (*parts, ("all", np.arange(len(reviews))))
    )


def _labels(
    reviews: pd.DataFrame, cases: pd.DataFrame, by: str, cutoff: pd.Timestamp
) -> NDArray[np.object_]:
    if by == "site":
        sites = cases["site"].reindex(reviews["procedure_id"])
        return sites.astype(str).to_numpy(dtype=object)
    if by == "month":
        due = reviews["due_on"].to_numpy(dtype="datetime64[ns]")
        places, months = pd.factorize(due.astype("datetime64[M]"))
        names = np.datetime_as_string(months.astype("datetime64[M]"), unit="M").astype(object)
        return np.where(due <= cutoff.to_datetime64(), names[places], LATER)
    return reviews["step"].astype(str).to_numpy(dtype=object)


@dataclass(frozen=True)
class _Facts:
    """What is counted of each review: its way by number (-1: none known), its case, and its days."""

    ways: NDArray[np.intp]
    keys: NDArray[np.int64]
    late: NDArray[np.float64]
    entered: NDArray[np.float64]


def _facts_of(reviews: pd.DataFrame) -> _Facts:
    ways = pd.Index(list(WAYS)).get_indexer(pd.Index(reviews["way"].astype(str)))
    return _Facts(
        ways=ways,
        keys=reviews["procedure_id"].to_numpy(),
        late=_days(reviews["due_on"], reviews["attended_on"]),
        entered=_days(reviews["attended_on"], reviews["entered_on"]),
    )


class _Cases(Mapping[str, tuple[int, ...]]):
    """The keys behind each way, looked up when somebody opens a number: most lines are only counted."""

    def __init__(self, ways: NDArray[np.intp], keys: NDArray[np.int64]) -> None:
        self._ways, self._keys = ways, keys

    def __getitem__(self, way: str) -> tuple[int, ...]:
        if way not in WAYS:
            raise KeyError(way)
        keys = self._keys[self._ways == list(WAYS).index(way)]
        return tuple(dict.fromkeys(keys.tolist()))

    def __iter__(self) -> Iterator[str]:
        return iter(WAYS)

    def __len__(self) -> int:
        return len(WAYS)


def _line(label: str, facts: _Facts, rows: Rows) -> Line:
    ways, keys = facts.ways[rows], facts.keys[rows]
    counted = np.bincount(ways[ways >= 0], minlength=len(WAYS))
    done = np.isin(ways, [list(WAYS).index(way) for way in DONE])
    return Line(
        label=label,
        planned=int(ways.size),
        counts={way: int(number) for way, number in zip(WAYS, counted, strict=True)},
        late=spread(facts.late[rows][done]),
        entered=spread(facts.entered[rows][done]),
        cases=_Cases(ways, keys),
    )


def _days(
    since: "pd.Series[pd.Timestamp]", until: "pd.Series[pd.Timestamp]"
) -> NDArray[np.float64]:
    return np.asarray((until - since) / pd.Timedelta(days=1), dtype=np.float64)


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
