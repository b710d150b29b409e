"""Union on films: when a fracture united, whether it had by six months, and whether it did later."""

from collections.abc import Callable

import numpy as np
import pandas as pd

from analytics.endpoints.definition import (
    NO_FILM,
    TURN,
    Applied,
    Data,
    EndpointDefinition,
    Rule,
    empty_verdicts,
    with_competing,
)
from analytics.endpoints.films import of_case, of_first_construct, turn

# The cut between late and never in a trial of midshaft fractures: PMC8039767.
MONTHS = 6
# A film this long after six months is still the film of the six-month review (from memory).
GRACE_DAYS = 60


def apply(definition: EndpointDefinition, data: Data) -> Applied:
    """Judge every fracture: the first film that shows union, the last that does not.

    Nonunion and delayed union ask what was known at six months: not united is what a film of that day
    or later shows; united is what a film up to the end of the six-month review's window shows. Where
    the first is missing and union is seen only later, neither is known.
    """
    verdicts = with_competing(empty_verdicts(data.cases), data.cases, definition.competing)
    films = data.films
    operated = of_case(films, data.cases["performed_on"])
    films = films.loc[films["judged"] & (films["taken_on"] >= operated)]
    films = films.assign(
        lost=films["united"], measure=films["united"].astype(float), within_error=False
    )
    films = of_first_construct(films, data.cases)
    verdicts[TURN] = turn(films, verdicts.index)[TURN]
    verdicts["baseline_on"] = data.cases["performed_on"]
    _SETTLE[definition.rule](verdicts, data)
    other = data.cases["injury_kind"] != "lateral_clavicle"
    verdicts.loc[other, "not_evaluable"] = "not_a_fracture"
    return Applied(definition, verdicts, films, data.readings)


def _as_seen(verdicts: pd.DataFrame, data: Data) -> None:
    """Leave union between the two films that show its turn."""


def _nonunion(verdicts: pd.DataFrame, data: Data) -> None:
    """Make not being united at six months the event, known to the day."""
    six = _six_months(data.cases)
    late = _settle_early(verdicts, six, data)
    verdicts["event_on"] = six.where(late)
    verdicts["event_film"] = verdicts["seen_film"].where(late, NO_FILM)
    verdicts["seen_until"] = verdicts["seen_until"].mask(late, six)


def _delayed(verdicts: pd.DataFrame, data: Data) -> None:
    """Make union after six months the event; whoever united earlier will never have it."""
    late = _settle_early(verdicts, _six_months(data.cases), data)
    verdicts["event_on"] = verdicts["event_on"].where(late)
    verdicts["event_film"] = verdicts["event_film"].where(late, NO_FILM)


def _settle_early(
    verdicts: pd.DataFrame, six: "pd.Series[pd.Timestamp]", data: Data
) -> "pd.Series[bool]":
    """Return who was not united at six months, and close the cases of those who were.

    United in time is held for good. Where neither is known the case stays open.
    """
    united, not_yet = verdicts["event_on"], verdicts["seen_until"]
    late = not_yet >= six
    in_time = ~late & (united <= six + pd.Timedelta(days=GRACE_DAYS))
    between = ~late & ~in_time & united.notna()
    verdicts.loc[between, "unknown"] = "between"
    # Until then a case is event-free whatever the film of six months would have shown.
    verdicts.loc[in_time, "seen_film"] = verdicts.loc[in_time, "event_film"]
    verdicts.loc[in_time, "seen_until"] = np.datetime64(data.cutoff, "ns")
    return late


def _six_months(cases: pd.DataFrame) -> "pd.Series[pd.Timestamp]":
    return cases["performed_on"] + pd.DateOffset(months=MONTHS)


_SETTLE: dict[Rule, Callable[[pd.DataFrame, Data], None]] = {
    "united": _as_seen,
    "nonunion": _nonunion,
    "delayed_union": _delayed,
}
