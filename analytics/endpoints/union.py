"""Union on films."""

from analytics.endpoints.definition import (
    Applied,
    Data,
    EndpointDefinition,
    empty_verdicts,
    with_competing,
)
from analytics.endpoints.films import of_case, of_first_construct, per_film, turn


def apply(definition: EndpointDefinition, data: Data) -> Applied:
    """Judge every fracture: the first film that shows union, the last that does not."""
    verdicts = with_competing(empty_verdicts(data.cases), data.cases, definition.competing)
    films = per_film(data.readings)
    operated = of_case(films, data.cases["performed_on"])
    films = films.loc[films["judged"] & (films["taken_on"] >= operated)]
    films = films.assign(lost=films["united"], measure=films["united"].astype(float))
    films = of_first_construct(films, data.cases)
    verdicts[["event_on", "seen_until"]] = turn(films, verdicts.index)
    verdicts["baseline_on"] = data.cases["performed_on"]
    other = data.cases["injury_kind"] != "lateral_clavicle"
    verdicts.loc[other, "not_evaluable"] = "not_a_fracture"
    return Applied(definition, verdicts, films)
