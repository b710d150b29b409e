"""Motion and scores of a cohort, from the same snapshot as its rates."""

from dataclasses import dataclass

import pandas as pd

from analytics.answers import function
from analytics.answers.function import FunctionAnswer, StepRow
from analytics.answers.horizons import HORIZONS
from analytics.answers.measures import MEASURES, Measure
from analytics.answers.outcomes import ALL
from analytics.selectors.following import refuse_first_kind
from analytics.selectors.outcomes import Given
from registry.errors import BadInput

DEFAULT = "pain_nrs"


@dataclass(frozen=True)
class Overview:
    """One measure at the chosen horizon, all groups together."""

    measure: Measure
    row: StepRow


def measure_of(code: str) -> Measure:
    """Return the measure that an address names.

    Raises BadInput.
    """
    if not code:
        return MEASURES[DEFAULT]
    if code not in MEASURES:
        raise BadInput({"measure": f"'{code}' is not one of {', '.join(MEASURES)}"})
    return MEASURES[code]


def function_answer(view: Given, measure: Measure) -> FunctionAnswer:
    """Answer 'How do they move and feel?' for a view and a measure."""
    return function.answer(
        measure,
        _values(view, measure),
        view.data.cases,
        HORIZONS[view.rule.horizon],
        pd.Timestamp(view.data.cutoff),
        view.rule.by,
    )


def recorded(view: Given) -> tuple[FunctionAnswer, ...]:
    """Answer for every measure that was ever recorded in the cohort."""
    return tuple(
        function.answer(
            measure,
            values,
            view.data.cases,
            HORIZONS[view.rule.horizon],
            pd.Timestamp(view.data.cutoff),
            view.rule.by,
        )
        for measure in MEASURES.values()
        if (values := _values(view, measure))["value"].notna().any()
    )


def overview(view: Given) -> tuple[Overview, ...]:
    """Return every measure that was ever recorded in the cohort, at the chosen horizon."""
    rows = ((one.measure, one.at(view.rule.horizon)) for one in recorded(view))
    return tuple(Overview(measure, row) for measure, row in rows if row is not None)


def behind(found: FunctionAnswer, which: str, group: str) -> tuple[str, tuple[int, ...]] | None:
    """Return in words, and by key, the cases behind a number written as horizon:what."""
    horizon, _, what = which.partition(":")
    row = found.at(horizon, group or ALL)
    if row is None or what not in row.cases:
        return None
    words = {"has": "with a value", "missing": "without one"}.get(what)
    reason = words or function.MISSING[what.removeprefix("missing:")]
    return f"{found.measure.name} at {row.horizon.name}, {reason}", row.cases[what]


def _values(view: Given, measure: Measure) -> pd.DataFrame:
    refuse_first_kind(view)
    frames = view.frames
    return function.measured(measure, frames.scores, frames.motion, view.data.cases)
