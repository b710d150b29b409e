"""Which construct does better? Differences to a chosen one, as they are and adjusted."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analytics.answers import horizons
from analytics.answers.covariates import design
from analytics.answers.horizons import Horizon
from analytics.answers.outcomes import MIN_AT_RISK, groups_of, percent
from analytics.answers.sensitivity import Tally, tallies
from analytics.endpoints.catalogue import apply
from analytics.endpoints.definition import Data, EndpointDefinition
from analytics.estimators.proportions import newcombe_difference, risk_ratio
from analytics.estimators.regression import Regression, cox, logistic_firth
from analytics.estimators.results import Estimate

# Fewer bend a coefficient and its interval; penalised or not, what they say then is mostly the model.
EVENTS_PER_COEFFICIENT = 5
RULE = (
    "five events, and five without, for each coefficient: Vittinghoff and McCulloch, Am J Epidemiol "
    "2007;165:710, who relax the ten of Peduzzi, J Clin Epidemiol 1996;49:1373 (both from memory)"
)
LOGISTIC, COX = "odds ratio at the horizon", "hazard ratio up to the horizon"


@dataclass(frozen=True)
class Contrast:
    """One group against the chosen one: difference of shares, their ratio, and both counts."""

    group: str
    own: Tally
    difference: Estimate
    ratio: Estimate


@dataclass(frozen=True)
class Effect:
    """One coefficient as a ratio: of odds or of hazards; infinite where no finite one fits."""

    term: str
    unadjusted: Estimate | None
    adjusted: Estimate


@dataclass(frozen=True)
class Model:
    """A fit, or why there is none; unadjusted and adjusted are of the same cases.

    `groups` are the effects of groups, `others` those of the covariates.
    """

    kind: str
    used: int
    events: int
    groups: tuple[Effect, ...] = ()
    others: tuple[Effect, ...] = ()
    refused: str = ""
    note: str = ""


@dataclass(frozen=True)
class Comparison:
    """Contrasts with one group, models, what was left out of them and why, and one sentence."""

    definition: EndpointDefinition
    horizon: Horizon
    by: str
    against: str
    reference: Tally
    contrasts: tuple[Contrast, ...]
    too_few: tuple[str, ...]
    models: tuple[Model, ...]
    left_out: dict[str, int]
    candidates: tuple[str, ...]
    sentence: str


def answer(
    data: Data,
    definition: EndpointDefinition,
    horizon: Horizon,
    *,
    by: str = "construct_type",
    against: str = "",
    covariates: Sequence[str] = (),
    min_at_risk: int = MIN_AT_RISK,
) -> Comparison:
    """Compare groups with one of them (the largest where `against` names none) at a horizon.

    Groups with fewer than `min_at_risk` evaluable are named and not compared. Models are fitted to
    cases in which every covariate is known, and refused in words where events are too few. Raises
    ValueError for a column, covariate or group that there is not.
    """
    if by not in data.cases.columns:
        raise ValueError(f"cases have no column '{by}' to group by")
    applied = apply(definition, data)
    states = horizons.states_at(applied, data.cases, horizon, pd.Timestamp(data.cutoff))
    groups = groups_of(data.cases, by).astype(str)
    total, *each = tallies(states["state"], groups)
    enough = [one for one in each if one.evaluable >= min_at_risk]
    reference = _reference(enough, each, total, against)
    others = [one for one in enough if one.group != reference.group]
    contrasts = tuple(_contrast(one, reference) for one in others)
    kept = groups.isin([reference.group, *(one.group for one in others)])
    asked = design(data.cases.loc[kept], covariates)
    sample = _Sample(groups, reference.group, asked.columns, asked.terms)
    models: tuple[Model, ...] = ()
    if others:
        times = horizons.times(applied, data.cases)
        models = (_logistic(sample, states["state"]), _cox(sample, times, horizon))
    return Comparison(
        definition=definition,
        horizon=horizon,
        by=by,
        against=reference.group,
        reference=reference,
        contrasts=contrasts,
        too_few=tuple(one.group for one in each if one.evaluable < min_at_risk),
        models=models,
        left_out=asked.left_out,
        candidates=tuple(one.group for one in enough),
        sentence=_sentence(contrasts, reference, horizon),
    )


def _reference(enough: list[Tally], each: list[Tally], total: Tally, against: str) -> Tally:
    found = {one.group: one for one in enough}
    if against in found:
        return found[against]
    if against:
        few = any(one.group == against for one in each)
        what = "has too few who can be judged" if few else "is none of the groups"
        raise ValueError(f"'{against}' {what}; there are {', '.join(found) or 'none'}")
    # Of two groups of one size the first by name.
    return max(enough, key=lambda one: one.evaluable, default=total)


def _contrast(own: Tally, reference: Tally) -> Contrast:
    counts = own.events, own.evaluable, reference.events, reference.evaluable
    return Contrast(own.group, own, newcombe_difference(*counts), risk_ratio(*counts))


@dataclass(frozen=True)
class _Sample:
    """The cases that a model may use: their groups and covariates, and what the columns mean."""

    groups: "pd.Series[Any]"
    reference: str
    columns: pd.DataFrame
    terms: dict[str, str]

    def of(self, keys: pd.Index) -> tuple[pd.DataFrame, pd.DataFrame]:
        """Return the columns of groups, and those of covariates, for some of the cases."""
        keys = self.columns.index.intersection(keys)
        mine = self.groups.loc[keys]
        names = sorted(set(mine) - {self.reference})
        dummies = pd.DataFrame({name: (mine == name) * 1.0 for name in names}, index=keys)
        columns = self.columns.loc[keys]
        varies = columns.columns[columns.nunique() > 1]
        return dummies, columns[varies]


def _logistic(sample: _Sample, state: "pd.Series[Any]") -> Model:
    evaluable = state.index[state.isin(["event", "held", "competing"])]
    groups, others = sample.of(evaluable)
    happened = (state.loc[groups.index] == "event").to_numpy(dtype=float)
    return _fitted(
        LOGISTIC,
        sample,
        groups,
        others,
        happened,
        lambda columns: logistic_firth(columns, happened),
    )


def _cox(sample: _Sample, times: pd.DataFrame, horizon: Horizon) -> Model:
    """Fit the hazard of the event among those still at risk; what competes ends the watch."""
    inside = times.loc[times["days"] > 0]
    groups, others = sample.of(inside.index)
    mine = inside.loc[groups.index]
    days = mine["days"].clip(upper=float(horizon.last_day)).to_numpy()
    observed = (mine["cause"] == 1) & (mine["days"] <= horizon.last_day)
    happened = observed.to_numpy(dtype=float)
    return _fitted(
        COX, sample, groups, others, happened, lambda columns: cox(days, happened, columns)
    )


def _fitted(
    kind: str,
    sample: _Sample,
    groups: pd.DataFrame,
    others: pd.DataFrame,
    happened: "NDArray[Any]",
    fit: Callable[[pd.DataFrame], Regression],
) -> Model:
    used, events = happened.size, int(happened.sum())
    coefficients = groups.shape[1] + others.shape[1]
    needed = EVENTS_PER_COEFFICIENT * coefficients
    scarce = min(events, used - events)
    if not groups.shape[1] or scarce < needed:
        return Model(kind, used, events, refused=_too_few(events, used, needed, coefficients))
    try:
        plain, full = fit(groups), fit(pd.concat([groups, others], axis=1))
    except ValueError as fault:
        return Model(kind, used, events, refused=f"No fit: {fault}.")
    effects = [
        Effect(
            sample.terms.get(name, f"{name} against {sample.reference}"),
            _ratio(plain, name) if name in groups else None,
            _ratio(full, name),
        )
        for name in (*groups, *others)
    ]
    own = groups.shape[1]
    return Model(kind, used, events, tuple(effects[:own]), tuple(effects[own:]), note=full.note)


def _ratio(fit: Regression, name: str) -> Estimate:
    row = fit.frame.loc[name]
    with np.errstate(over="ignore"):
        return Estimate(*(float(np.exp(row[one])) for one in ("coef", "low", "high")))


def _too_few(events: int, used: int, needed: int, coefficients: int) -> str:
    if not coefficients:
        return "There is no second group among the cases in which every covariate is known."
    return (
        f"Not fitted: {coefficients} coefficient{'s' if coefficients > 1 else ''} would need at least "
        f"{needed} with the event and {needed} without; there are {events} and {used - events} ({RULE})."
        " Adjust for less, or wait for more."
    )


def _sentence(contrasts: Sequence[Contrast], reference: Tally, horizon: Horizon) -> str:
    if not contrasts:
        return f"No two groups have enough who can be judged at {horizon.name} to compare them."
    parts = [contrast_words(one, reference.group) for one in contrasts]
    many = (
        f" These are {len(parts)} comparisons at once: the more one looks at, the more will stand apart "
        "by chance."
        if len(parts) > 1
        else ""
    )
    return f"By {horizon.name}: {'; '.join(parts)}.{many}"


def contrast_words(one: Contrast, against: str) -> str:
    """Say one difference in percentage points with its interval, and whether that holds 0."""
    gap = one.difference
    points = f"{gap.estimate * 100:+.1f} points ({gap.low * 100:+.1f} to {gap.high * 100:+.1f})"
    either = ", so that either may have the higher rate"
    apart = either if gap.low <= 0 <= gap.high else ", an interval without 0"
    share = percent(one.own.events / one.own.evaluable)
    return f"{one.group} {share}, {points} against {against}{apart}"


def to_rows(found: Comparison) -> list[dict[str, Any]]:
    """Return contrasts, and the effects of models, as plain rows."""
    rows: list[dict[str, Any]] = [
        {"group": one.group, "against": found.against, "measure": measure, "adjusted": "no"}
        | {"events": one.own.events, "evaluable": one.own.evaluable}
        | _plain(estimate)
        for one in found.contrasts
        for measure, estimate in (("difference", one.difference), ("ratio", one.ratio))
    ]
    for model in found.models:
        for effect in (*model.groups, *model.others):
            for adjusted, value in (("no", effect.unadjusted), ("yes", effect.adjusted)):
                if value is not None:
                    told = {"group": effect.term, "against": "", "measure": model.kind}
                    counts = {"events": model.events, "evaluable": model.used}
                    rows.append({**told, "adjusted": adjusted, **counts, **_plain(value)})
    return rows


def _plain(estimate: Estimate) -> dict[str, float]:
    return {"estimate": estimate.estimate, "low": estimate.low, "high": estimate.high}
