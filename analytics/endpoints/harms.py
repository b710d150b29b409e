"""Unwanted events after an operation; a planned removal is not one."""

import pandas as pd

from analytics.endpoints.definition import (
    Applied,
    Data,
    EndpointDefinition,
    empty_verdicts,
    with_competing,
)
from analytics.endpoints.films import of_case


def apply(definition: EndpointDefinition, data: Data) -> Applied:
    """Judge every case: the first event of the wanted kinds, and how long it was watched.

    An event's day is its onset where that is known, else the day on which it came to light.
    """
    verdicts = with_competing(empty_verdicts(data.cases), data.cases, definition.competing)
    events = data.complications
    if definition.kinds:
        events = events.loc[events["kind"].isin(definition.kinds)]
    events = events[["procedure_id", "kind"]].assign(
        taken_on=events["onset_on"].fillna(events["detected_on"])
    )
    operated, seen = data.cases["performed_on"], data.cases["last_seen_on"]
    if definition.within_days is not None:
        limit = of_case(events, operated) + pd.Timedelta(days=definition.within_days)
        events = events.loc[events["taken_on"] <= limit]
    first = events.groupby("procedure_id")["taken_on"].min().reindex(verdicts.index)
    verdicts["event_on"] = first
    verdicts["baseline_on"] = operated
    verdicts["seen_until"] = seen.mask(seen >= first, first)
    return Applied(definition, verdicts, events)
