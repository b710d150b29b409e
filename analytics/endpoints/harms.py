"""Unwanted events after an operation; a planned removal is not one."""

import pandas as pd

from analytics.endpoints.definition import (
    Applied,
    Data,
    EndpointDefinition,
    empty_verdicts,
    with_competing,
)


def apply(definition: EndpointDefinition, data: Data) -> Applied:
    """Judge every case: the first event of the wanted kinds, and how long it was watched."""
    verdicts = with_competing(empty_verdicts(data.cases), data.cases, definition.competing)
    events = data.complications
    if definition.kinds:
        events = events.loc[events["kind"].isin(definition.kinds)]
    first = events.groupby("procedure_id")["detected_on"].min()
    verdicts["event_on"] = first.reindex(verdicts.index)
    verdicts["baseline_on"] = data.cases["performed_on"]
    seen = data.cases["last_seen_on"]
    later = seen >= verdicts["event_on"].fillna(pd.Timestamp.max)
    verdicts["seen_until"] = seen.where(~later, verdicts["event_on"])
    return Applied(definition, verdicts)
