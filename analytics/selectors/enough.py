"""The comparison that an address asks about, from the same cohort as the rates."""

import pandas as pd

from analytics.answers import enough
from analytics.answers.enough import EnoughAnswer, Typed
from analytics.answers.outcomes import Answer, groups_of
from analytics.selectors.kept import kept
from analytics.selectors.outcomes import Given
from registry.errors import BadInput


def enough_answer(
    view: Given, result: Answer, names: tuple[str, str], typed: tuple[Typed, Typed]
) -> EnoughAnswer:
    """Return what more years would tell of two groups of a view; '' names a group by its size.

    Raises BadInput where the groups cannot be compared.
    """
    try:
        chosen = enough.sides_of(result, *names)
    except ValueError as fault:
        raise BadInput({"group": str(fault)}) from fault
    cases = view.data.cases
    parts = enough.cases_of(groups_of(cases, view.rule.by), cases, chosen)
    rows = {row.group: row for row in result.rows}
    end = pd.Timestamp(min(view.data.cutoff, view.rule.operated_to or view.data.cutoff))
    one, other = (
        enough.side(rows[name], part, end, known)
        for name, part, known in zip(chosen, parts, typed, strict=True)
    )
    # What every count of events to come would give is summed up, which takes long for many cases.
    return kept(view, "enough", lambda: enough.answer(one, other), repr((one, other)))
