"""Loss of reduction: when a film no longer shows what the baseline film showed."""

import pandas as pd

from analytics.endpoints.definition import (
    Applied,
    Data,
    EndpointDefinition,
    empty_verdicts,
    with_competing,
)
from analytics.endpoints.films import of_case, of_first_construct, per_film, turn

# Readings carry one decimal; a difference this small is rounding, not movement.
TOLERANCE = 1e-6


def apply(definition: EndpointDefinition, data: Data) -> Applied:
    """Judge every case: baseline, the last film that held, the first that did not.

    No baseline, no loss of reduction: the case cannot be judged. A rise in mm is compared only with
    films of the baseline's view, and of its posture where both are known. Films after a removal
    count; films after a revision do not.
    """
    verdicts = with_competing(empty_verdicts(data.cases), data.cases, definition.competing)
    films = _measured(definition, per_film(data.readings), data.cases)
    baselines = _baselines(definition, films)
    films = of_first_construct(_compared(definition, films, baselines), data.cases)
    first_films = baselines.set_index("procedure_id")["taken_on"]
    verdicts["baseline_on"] = first_films.reindex(verdicts.index)
    verdicts[["event_on", "seen_until"]] = turn(films, verdicts.index)
    _reasons(definition, verdicts, data.cases)
    return Applied(definition, verdicts, films)


def _measured(
    definition: EndpointDefinition, films: pd.DataFrame, cases: pd.DataFrame
) -> pd.DataFrame:
    value = {
        "rise_mm": films["ccd_injured_mm"],
        "side_ratio_pct": films["ratio_pct"],
        "side_difference_mm": films["ccd_injured_mm"] - films["ccd_other_mm"],
    }[definition.rule]
    films = films.assign(value=value)
    operated = of_case(films, cases["performed_on"])
    keep = films["value"].notna() & (films["taken_on"] >= operated)
    if definition.rule != "rise_mm":
        keep &= of_case(films, cases["other_shoulder"]) == "uninjured"
    return films.loc[keep].assign(day=(films["taken_on"] - operated).dt.days)


def _baselines(definition: EndpointDefinition, films: pd.DataFrame) -> pd.DataFrame:
    early = films.loc[films["day"] <= definition.baseline_days]
    # Films arrive in order of date and preferred view, so the first of each case is its baseline.
    return early.drop_duplicates("procedure_id")


def _compared(
    definition: EndpointDefinition, films: pd.DataFrame, baselines: pd.DataFrame
) -> pd.DataFrame:
    compared = baselines[["procedure_id", "film_id", "taken_on", "view", "position", "value"]]
    joined = films.merge(compared, on="procedure_id", suffixes=("", "_before"))
    # A second film of the baseline's own day shows the same state; only later days show a change.
    itself = joined["film_id"] == joined["film_id_before"]
    joined = joined.loc[itself | (joined["taken_on"] > joined["taken_on_before"])]
    if definition.rule == "rise_mm":
        known = (joined["position"] != "unknown") & (joined["position_before"] != "unknown")
        alike = (joined["view"] == joined["view_before"]) & (
            ~known | (joined["position"] == joined["position_before"])
        )
        joined = joined.loc[alike]
        measure = joined["value"] - joined["value_before"]
    else:
        measure = joined["value"]
    limit = definition.threshold
    lost = measure >= limit - TOLERANCE if definition.inclusive else measure > limit + TOLERANCE
    return joined.assign(measure=measure, lost=lost)


def _reasons(definition: EndpointDefinition, verdicts: pd.DataFrame, cases: pd.DataFrame) -> None:
    unjudged = verdicts["baseline_on"].isna()
    verdicts.loc[unjudged, "not_evaluable"] = "no_baseline"
    if definition.rule != "rise_mm":
        no_reference = cases["other_shoulder"] != "uninjured"
        verdicts.loc[no_reference, "not_evaluable"] = "other_shoulder"
        never = verdicts["event_on"].notna() & (verdicts["event_on"] == verdicts["baseline_on"])
        verdicts.loc[never, "not_evaluable"] = "not_reduced"
    off = verdicts["not_evaluable"] != ""
    verdicts.loc[off, ["event_on", "seen_until"]] = pd.NaT
