"""Which cases stand behind a number of a page, by the word in its address."""

from collections.abc import Sequence

from analytics.answers.hardware import NUMBERS
from analytics.answers.harms import LATER, later_of
from analytics.answers.outcomes import Answer, GroupRow
from analytics.endpoints.definition import REASONS
from analytics.selectors import outcomes as selector
from analytics.selectors.cohorts import reoperations_of
from analytics.selectors.outcomes import Given
from analytics.views.rows import COUNTS

EVER = "had it at any time"


def keys_behind(view: Given, result: Answer, row: GroupRow, which: str) -> Sequence[int] | None:
    """Return the keys of the cases behind a number of a row, or None where there is no such number."""
    sort, _, name = which.partition(":")
    if which in row.cases or sort == "reason":
        return row.cases.get(which, ())
    if which == "ever":
        happened = result.applied.verdicts["event_on"].notna()
        return _among(row, happened.index[happened].tolist())
    if sort == "later" and name in LATER:
        rows = later_of(reoperations_of(view.frames, view.data))[LATER[name]]
        return _among(row, rows.tolist())
    if sort == "hardware" and name in NUMBERS:
        stories = {one.group: one for one in selector.hardware_answer(view)}
        return stories[row.group].cases[name]
    return None


def _among(row: GroupRow, keys: Sequence[int]) -> list[int]:
    mine = set(keys)
    return [key for key in row.cases["operated"] if key in mine]


def words_for(which: str) -> str:
    """Say what a number counts."""
    sort, _, name = which.partition(":")
    named = {"later": LATER, "hardware": NUMBERS, "reason": REASONS}.get(sort, {})
    return COUNTS.get(which) or (EVER if which == "ever" else named.get(name, which))
