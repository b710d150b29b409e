"""Failure of a fixed fracture on films: new translation of the fragments, or hardware that lets go."""

import pandas as pd

from analytics.endpoints.definition import (
    Applied,
    Data,
    EndpointDefinition,
    empty_verdicts,
    with_competing,
)
from analytics.endpoints.films import of_case, of_first_construct
from analytics.endpoints.reduction import (
    TOLERANCE,
    alike,
    beside_first,
    first_films,
    forget,
    judge,
)


def apply(definition: EndpointDefinition, data: Data) -> Applied:
    """Judge every fracture: the first film with new translation, or with loose or broken hardware.

    Translation is compared with the first film, in per cent of the shaft's width. A film shows that
    it held only where both were judged: translation comparable with the first film, and hardware in
    place, or removed by then; it shows a failure where either was seen.
    """
    verdicts = with_competing(empty_verdicts(data.cases), data.cases, definition.competing)
    films = _judged(data)
    complete = films["translation_pct"].notna() & (films["holds"] | films["lifted"])
    baselines = first_films(definition, films.loc[complete])
    films = of_first_construct(_compared(definition, films, baselines), data.cases)
    judge(definition, verdicts, films, baselines)
    _reasons(verdicts, data.cases, baselines)
    return Applied(definition, verdicts, films, data.readings)


def _judged(data: Data) -> pd.DataFrame:
    films = data.films
    operated = of_case(films, data.cases["performed_on"])
    told = films["translation_pct"].notna() | films["holds"] | films["lifted"]
    keep = told & (films["taken_on"] >= operated)
    return films.loc[keep].assign(day=(films["taken_on"] - operated).dt.days)


def _compared(
    definition: EndpointDefinition, films: pd.DataFrame, baselines: pd.DataFrame
) -> pd.DataFrame:
    joined = beside_first(films, baselines, "translation_pct")
    moved = joined["translation_pct"] - joined["translation_pct_before"]
    measure = moved.where(alike(definition, joined))
    lost = (measure >= definition.threshold - TOLERANCE) | joined["lifted"]
    joined = joined.assign(measure=measure, lost=lost, within_error=False)
    return joined.loc[lost | (measure.notna() & joined["holds"])]


def _reasons(verdicts: pd.DataFrame, cases: pd.DataFrame, baselines: pd.DataFrame) -> None:
    verdicts.loc[verdicts["baseline_on"].isna(), "not_evaluable"] = "no_baseline"
    loose = baselines.loc[baselines["lifted"], "procedure_id"]
    verdicts.loc[verdicts.index.isin(loose), "not_evaluable"] = "not_reduced"
    other = cases["injury_kind"] != "lateral_clavicle"
    verdicts.loc[other, "not_evaluable"] = "not_a_fracture"
    forget(verdicts)
