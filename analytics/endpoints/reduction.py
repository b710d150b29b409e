"""Loss of reduction: when a film no longer shows what the baseline film showed."""

import pandas as pd

from analytics.endpoints.definition import (
    Applied,
    Data,
    EndpointDefinition,
    empty_verdicts,
    with_competing,
)
from analytics.endpoints.films import per_film

# Readings carry one decimal; a difference this small is rounding, not movement.
TOLERANCE = 1e-6


def apply(definition: EndpointDefinition, data: Data) -> Applied:
    """Judge every case: baseline, the last film that held, the first that did not.

    No baseline, no loss of reduction: the case cannot be judged. A rise in mm is compared only with
    films of the baseline's view, and of its posture where both are known.
    """
    verdicts = with_competing(empty_verdicts(data.cases), data.cases, definition.competing)
    films = _measured(definition, per_film(data.readings), data.cases)
    baselines = _baselines(definition, films, data.cases)
    films = _compared(definition, films, baselines)
    verdicts["baseline_on"] = baselines["taken_on"].reindex(verdicts.index)
    first_lost = films.loc[films["lost"]].groupby("procedure_id")["taken_on"].min()
    verdicts["event_on"] = first_lost.reindex(verdicts.index)
    before = films["taken_on"] < films["procedure_id"].map(first_lost).fillna(pd.Timestamp.max)
    held = films.loc[before & ~films["lost"]].groupby("procedure_id")["taken_on"].max()
    verdicts["seen_until"] = held.reindex(verdicts.index)
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
    operated = films["procedure_id"].map(cases["performed_on"])
    keep = films["value"].notna() & (films["taken_on"] >= operated)
    if definition.rule != "rise_mm":
        keep &= films["procedure_id"].map(cases["other_shoulder"]) == "uninjured"
    return films.loc[keep].assign(day=(films["taken_on"] - operated).dt.days)


def _baselines(
    definition: EndpointDefinition, films: pd.DataFrame, cases: pd.DataFrame
) -> pd.DataFrame:
    early = films.loc[films["day"] <= definition.baseline_days]
    # Films arrive in order of date and preferred view, so the first of each case is its baseline.
    return early.drop_duplicates("procedure_id").set_index("procedure_id")


def _compared(
    definition: EndpointDefinition, films: pd.DataFrame, baselines: pd.DataFrame
) -> pd.DataFrame:
    joined = films.join(
        baselines[["film_id", "taken_on", "view", "position", "value"]].add_prefix("baseline_"),
        on="procedure_id",
        how="inner",
    )
    if definition.rule == "rise_mm":
        known = (joined["position"] != "unknown") & (joined["baseline_position"] != "unknown")
        alike = (joined["view"] == joined["baseline_view"]) & (
            ~known | (joined["position"] == joined["baseline_position"])
        )
        joined = joined.loc[alike]
        measure = joined["value"] - joined["baseline_value"]
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
