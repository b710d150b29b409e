"""Loss of reduction: when a film no longer shows what the baseline film showed."""

from typing import Any

import pandas as pd

from analytics.endpoints.definition import (
    NO_FILM,
    TURN,
    Applied,
    Data,
    EndpointDefinition,
    empty_verdicts,
    with_competing,
)
from analytics.endpoints.films import confirm, of_case, of_first_construct, turn

# Readings carry one decimal; a difference this small is rounding, not movement.
TOLERANCE = 1e-6
SIDE_RULES = ("side_ratio_pct", "side_difference_mm")


def apply(definition: EndpointDefinition, data: Data) -> Applied:
    """Judge every case: baseline, the last film that held, the first that did not.

    No baseline, no loss of reduction: the case cannot be judged. Where the definition asks for it, a
    film is compared only with a first film of its view, and of its posture where both are known.
    Films after a removal count; films after a revision do not.
    """
    verdicts = with_competing(empty_verdicts(data.cases), data.cases, definition.competing)
    films = _measured(definition, data.films, data.cases)
    baselines = first_films(definition, films)
    films = of_first_construct(_compared(definition, films, baselines), data.cases)
    if definition.confirmed:
        films = confirm(films, data.cases)
    judge(definition, verdicts, films, baselines)
    _reasons(definition, verdicts, data.cases)
    return Applied(definition, verdicts, films, data.readings)


def judge(
    definition: EndpointDefinition,
    verdicts: pd.DataFrame,
    films: pd.DataFrame,
    baselines: pd.DataFrame,
) -> None:
    """Fill in baseline, turn, what is open and what is partial from compared films."""
    first = baselines.set_index("procedure_id")[["taken_on", "film_id"]].reindex(verdicts.index)
    verdicts["baseline_on"] = first["taken_on"]
    verdicts["baseline_film"] = first["film_id"].fillna(NO_FILM).astype(int)
    shown = films.loc[~films["awaits"]] if definition.confirmed else films
    verdicts[TURN] = turn(shown, verdicts.index)[TURN]
    if definition.confirmed:
        open_cases = films.loc[films["awaits"], "procedure_id"]
        awaits = verdicts.index.isin(open_cases) & verdicts["event_on"].isna()
        verdicts.loc[awaits, "unknown"] = "unconfirmed"
    if definition.partial_from is not None:
        partly = films.loc[films["measure"] >= definition.partial_from - TOLERANCE, "film_id"]
        verdicts["partial"] = verdicts["event_on"].isna() & verdicts["seen_film"].isin(partly)


def first_films(definition: EndpointDefinition, films: pd.DataFrame) -> pd.DataFrame:
    """Return the baseline film of each case: the first in the window, of one day the preferred view."""
    early = films.loc[films["day"] <= definition.baseline_days]
    return early.drop_duplicates("procedure_id")


def beside_first(films: pd.DataFrame, baselines: pd.DataFrame, *values: str) -> pd.DataFrame:
    """Put beside each film its case's first one, in columns that end in '_before'.

    A second film of the baseline's own day shows the same state; only later days show a change.
    """
    kept = ["procedure_id", "film_id", "taken_on", "view", "position", *values]
    joined = films.merge(baselines[kept], on="procedure_id", suffixes=("", "_before"))
    itself = joined["film_id"] == joined["film_id_before"]
    return joined.loc[itself | (joined["taken_on"] > joined["taken_on_before"])]


def alike(definition: EndpointDefinition, films: pd.DataFrame) -> "pd.Series[bool]":
    """Say which films were taken like their first one, as far as the definition asks for it."""
    same = pd.Series(data=True, index=films.index)
    if definition.same_view:
        same &= films["view"] == films["view_before"]
    if definition.same_posture:
        known = (films["position"] != "unknown") & (films["position_before"] != "unknown")
        same &= ~known | (films["position"] == films["position_before"])
    return same


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
    if definition.rule in SIDE_RULES:
        keep &= of_case(films, cases["other_shoulder"]) == "uninjured"
    return films.loc[keep].assign(day=(films["taken_on"] - operated).dt.days)


def _compared(
    definition: EndpointDefinition, films: pd.DataFrame, baselines: pd.DataFrame
) -> pd.DataFrame:
    joined = beside_first(films, baselines, "value", "ccd_injured_mm")
    joined = joined.loc[alike(definition, joined)]
    rises = definition.rule == "rise_mm"
    measure = joined["value"] - joined["value_before"] if rises else joined["value"]
    limit = definition.threshold
    lost = measure >= limit - TOLERANCE if definition.inclusive else measure > limit + TOLERANCE
    within = _within_error(definition, joined)
    if definition.within_error == "held":
        lost &= ~within
    return joined.assign(measure=measure, lost=lost, within_error=within)


def _within_error(definition: EndpointDefinition, films: pd.DataFrame) -> "pd.Series[Any]":
    """Say which films differ from their first one by less than the minimal detectable change.

    Only millimetres of films of one view can tell; the first film itself has not changed.
    """
    if definition.mdc_mm is None:
        return pd.Series(data=False, index=films.index)
    change = (films["ccd_injured_mm"] - films["ccd_injured_mm_before"]).abs()
    later = films["film_id"] != films["film_id_before"]
    like = films["view"] == films["view_before"]
    return later & like & (change < definition.mdc_mm - TOLERANCE)


def _reasons(definition: EndpointDefinition, verdicts: pd.DataFrame, cases: pd.DataFrame) -> None:
    unjudged = verdicts["baseline_on"].isna()
    verdicts.loc[unjudged, "not_evaluable"] = "no_baseline"
    if definition.rule in SIDE_RULES:
        no_reference = cases["other_shoulder"] != "uninjured"
        verdicts.loc[no_reference, "not_evaluable"] = "other_shoulder"
        never = verdicts["event_on"].notna() & (verdicts["event_on"] == verdicts["baseline_on"])
        verdicts.loc[never, "not_evaluable"] = "not_reduced"
    forget(verdicts)


def forget(verdicts: pd.DataFrame) -> None:
    """Leave no turn on cases that cannot be judged."""
    off = verdicts["not_evaluable"] != ""
    verdicts.loc[off, ["event_on", "seen_until"]] = pd.NaT
    verdicts.loc[off, ["event_film", "seen_film"]] = NO_FILM
    verdicts.loc[off, "unknown"] = ""
    verdicts.loc[off, "partial"] = False
