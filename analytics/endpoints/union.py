"""Union on films."""

import pandas as pd

from analytics.endpoints.definition import (
    Applied,
    Data,
    EndpointDefinition,
    empty_verdicts,
    with_competing,
)
from analytics.endpoints.films import per_film


def apply(definition: EndpointDefinition, data: Data) -> Applied:
    """Judge every fracture: the first film that shows union, the last that does not."""
    verdicts = with_competing(empty_verdicts(data.cases), data.cases, definition.competing)
    films = per_film(data.readings)
    operated = films["procedure_id"].map(data.cases["performed_on"])
    films = films.loc[films["judged"].astype(bool) & (films["taken_on"] >= operated)]
    films = films.assign(lost=films["united"], measure=films["united"].astype(float))
    first = films.loc[films["united"]].groupby("procedure_id")["taken_on"].min()
    verdicts["event_on"] = first.reindex(verdicts.index)
    before = films["taken_on"] < films["procedure_id"].map(first).fillna(pd.Timestamp.max)
    last = films.loc[before].groupby("procedure_id")["taken_on"].max()
    verdicts["seen_until"] = last.reindex(verdicts.index)
    verdicts["baseline_on"] = data.cases["performed_on"]
    other = data.cases["injury_kind"] != "lateral_clavicle"
    verdicts.loc[other, "not_evaluable"] = "not_a_fracture"
    return Applied(definition, verdicts, films)
