"""The risk that is expected of each case: estimated once from a baseline, and kept as numbers."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analytics.estimators.regression import logistic_firth

Floats = NDArray[np.float64]
# Peduzzi et al., J Clin Epidemiol 1996;49:1373 (from memory): ten events for each covariate.
EVENTS_PER_COVARIATE = 10
# Below this a rate of the past is too vague to hold the future against (common practice, no source).
FEWEST_CASES = 20
LOWEST, HIGHEST = 0.001, 0.999


@dataclass(frozen=True)
class Covariate:
    """A fact of a case that its risk may depend on; `value` is NaN where it is not known."""

    code: str
    name: str
    value: Callable[[pd.DataFrame], Floats]


def _number(column: str, unit: float) -> Callable[[pd.DataFrame], Floats]:
    def value(cases: pd.DataFrame) -> Floats:
        found: Floats = pd.to_numeric(cases[column]).to_numpy(dtype=float, na_value=np.nan)
        return found / unit

    return value


def _is(
    column: str, yes: str | Sequence[str], no: Sequence[str]
) -> Callable[[pd.DataFrame], Floats]:
    has = [yes] if isinstance(yes, str) else list(yes)

    def value(cases: pd.DataFrame) -> Floats:
        found = cases[column].to_numpy(dtype=object).astype(str)
        known = np.isin(found, [*has, *no])
        return np.where(known, np.isin(found, has), np.nan).astype(float)

    return value


# The minimum set to adjust for after these operations (from memory; effects of smoking, age, energy
# and delay: Li 2015, Nilsson 2019 and others on the midshaft), as far as it is stored with a case.
COVARIATES: Mapping[str, Covariate] = {
    row.code: row
    for row in (
        Covariate("age", "age, per ten years", _number("age_years", 10)),
        Covariate("female", "female", _is("sex", "female", ["male"])),
        Covariate(
            "joint",
            "joint injury rather than fracture",
            _is("injury_kind", "ac_joint", ["lateral_clavicle"]),
        ),
        # A joint injury has no Neer class: the mean of the fractures stands in for it.
        Covariate(
            "unstable_class",
            "Neer class IIB or V rather than another",
            _is("neer", ("IIB", "V"), ["I", "IIA", "IIC", "III", "IV"]),
        ),
        Covariate("high_energy", "high energy", _is("energy", "high", ["low"])),
        Covariate("open", "open injury", _is("skin", "open", ["closed"])),
        Covariate("wait", "days to surgery, per week", _number("days_to_surgery", 7)),
        Covariate("smoker", "smokes now", _is("smoking", "current", ["never", "former"])),
        Covariate("diabetes", "diabetes", _is("diabetes", "yes", ["no"])),
        Covariate("bmi", "body mass index, per 5 kg/m²", _number("bmi_kg_m2", 5)),
        Covariate("dominant", "dominant side injured", _is("injured_dominant", "yes", ["no"])),
        Covariate(
            "contact_sport",
            "contact or overhead sport",
            _is("sport_demand", "contact", ["none", "recreational"]),
        ),
    )
}


@dataclass(frozen=True)
class Term:
    """One covariate of a risk model; where it is not known of a case, `mean` stands in."""

    code: str
    coefficient: float
    mean: float


@dataclass(frozen=True)
class Basis:
    """An expected risk: one rate where `terms` is empty, else a logistic model about the means.

    `intercept` is the log odds of a case at the mean of every term. `words` says which it is, why,
    and from how many cases and events.
    """

    cases: int
    events: int
    intercept: float
    terms: tuple[Term, ...]
    words: str


def fit(cases: pd.DataFrame, events: Sequence[bool], covariates: Sequence[str]) -> Basis:
    """Estimate the risk of the cases of a baseline period from named covariates.

    With fewer than ten events (or non-events) for each covariate one rate is taken, (events + 1/2) /
    (cases + 1), which is Firth's estimate without covariates. Raises ValueError for an unknown
    covariate, and for fewer than 20 cases.
    """
    unknown = [code for code in covariates if code not in COVARIATES]
    if unknown:
        raise ValueError(f"'{unknown[0]}' is not one of {', '.join(COVARIATES)}")
    outcome = np.asarray(events, dtype=float)
    if outcome.size < FEWEST_CASES:
        raise ValueError(
            f"the baseline has {outcome.size} judged cases; an expected risk needs at least "
            f"{FEWEST_CASES}"
        )
    count = int(outcome.sum())
    fewer = min(count, outcome.size - count)
    wanted = EVENTS_PER_COVARIATE * len(covariates)
    known = {code: COVARIATES[code].value(cases) for code in covariates}
    flat = [code for code, values in known.items() if _is_flat(values)]
    if not covariates or fewer < wanted or flat:
        return _one_rate(outcome, _why_one_rate(covariates, fewer, wanted, flat))
    return _model(outcome, known)


def expected(basis: Basis, cases: pd.DataFrame) -> Floats:
    """Return the expected risk of each case, between 0.001 and 0.999."""
    odds = np.full(len(cases), basis.intercept)
    for term in basis.terms:
        values = COVARIATES[term.code].value(cases)
        odds += term.coefficient * (np.where(np.isnan(values), term.mean, values) - term.mean)
    risk: Floats = np.clip(1 / (1 + np.exp(-odds)), LOWEST, HIGHEST)
    return risk


def to_plain(basis: Basis) -> dict[str, Any]:
    """Return a basis as plain values, to be kept with the design of a chart."""
    return {**asdict(basis), "terms": [asdict(term) for term in basis.terms]}


def from_plain(plain: Mapping[str, Any]) -> Basis:
    """Return the basis that `to_plain` wrote."""
    return Basis(**{**plain, "terms": tuple(Term(**one) for one in plain["terms"])})


def _is_flat(values: Floats) -> bool:
    known = values[~np.isnan(values)]
    return bool(known.size == 0 or (known == known[0]).all())


def _one_rate(outcome: Floats, why: str) -> Basis:
    events, cases = int(outcome.sum()), outcome.size
    rate = (events + 0.5) / (cases + 1)
    words = f"one rate of {100 * rate:.1f}%, from {_events(events)} in {cases} cases: {why}"
    return Basis(cases, events, float(np.log(rate / (1 - rate))), (), words)


def _events(number: int) -> str:
    return f"{number} event{'' if number == 1 else 's'}"


def _why_one_rate(covariates: Sequence[str], fewer: int, wanted: int, flat: list[str]) -> str:
    if not covariates:
        return "no adjustment was asked for"
    if fewer < wanted:
        return (
            f"{len(covariates)} covariate{'' if len(covariates) == 1 else 's'} would need {wanted} "
            f"events (and as many without), ten for each, and there {'is' if fewer == 1 else 'are'} {fewer}"
        )
    return f"every baseline case is alike in {COVARIATES[flat[0]].name}"


def _model(outcome: Floats, known: Mapping[str, Floats]) -> Basis:
    means = {code: float(np.nanmean(values)) for code, values in known.items()}
    matrix = np.column_stack(
        [
            np.where(np.isnan(values), means[code], values) - means[code]
            for code, values in known.items()
        ]
    )
    # The intercept stands first, the covariates in their order after it.
    coefficients = logistic_firth(matrix, outcome).frame["coef"].to_numpy(dtype=float)
    terms = tuple(
        Term(code, float(coefficient), means[code])
        for code, coefficient in zip(known, coefficients[1:], strict=True)
    )
    names = ", ".join(COVARIATES[code].name for code in known)
    events, cases = int(outcome.sum()), outcome.size
    words = f"a logistic model (Firth) on {names}, from {_events(events)} in {cases} cases"
    lacking = {code: int(np.isnan(values).sum()) for code, values in known.items()}
    missing = [f"{COVARIATES[code].name} of {n}" for code, n in lacking.items() if n]
    if missing:
        words += f"; not known: {', '.join(missing)}, where the mean of the others stands in"
    return Basis(cases, events, float(coefficients[0]), terms, words)
