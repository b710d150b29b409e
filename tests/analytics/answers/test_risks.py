import json
from typing import Any

import numpy as np
import pandas as pd
import pytest

from analytics.answers import risks
from analytics.answers.risks import Basis, Term
from registry.models.injuries import (
    CLASS_CODES,
    Energy,
    SkinState,
    Smoking,
    SportDemand,
    YesNo,
)


def cases(count: int, **columns: Any) -> pd.DataFrame:
    """Return so many cases; a column that is a list is repeated over them."""
    facts = {"age_years": [40], "sex": ["male"], "injury_kind": ["lateral_clavicle"], **columns}
    frame = pd.DataFrame(
        {name: (list(values) * count)[:count] for name, values in facts.items()},
        index=range(1, count + 1),
    )
    return frame.assign(age_years=frame["age_years"].astype("Int64"))


def test_without_covariates_the_risk_is_one_rate() -> None:
    basis = risks.fit(cases(40), [True] * 4 + [False] * 36, ())
    # Firth's estimate without covariates: (events + 1/2) / (cases + 1).
    assert risks.expected(basis, cases(3)) == pytest.approx([4.5 / 41] * 3)
    assert basis.words == (
        "one rate of 11.0%, from 4 events in 40 cases: no adjustment was asked for"
    )


def test_no_event_in_the_baseline_is_no_risk_of_nothing() -> None:
    basis = risks.fit(cases(49), [False] * 49, ())
    assert risks.expected(basis, cases(1)) == pytest.approx([0.01])


def test_too_few_events_for_the_covariates_are_said_and_one_rate_is_taken() -> None:
    mixed = cases(60, sex=["male", "female"], age_years=[20, 40, 60])
    basis = risks.fit(mixed, [True] * 6 + [False] * 54, ("age", "female", "joint"))
    assert basis.terms == ()
    assert "3 covariates would need 30 events" in basis.words
    assert "there are 6" in basis.words


def test_too_few_without_the_event_are_too_few_as_well() -> None:
    basis = risks.fit(cases(60, sex=["male", "female"]), [True] * 55 + [False] * 5, ("female",))
    assert basis.terms == ()
    assert "there are 5" in basis.words


def test_a_covariate_in_which_all_are_alike_is_left_to_one_rate() -> None:
    basis = risks.fit(cases(60), [True] * 20 + [False] * 40, ("female",))
    assert basis.words.endswith("every baseline case is alike in female")


def test_the_model_gives_each_case_its_risk() -> None:
    # 400 of each sex; 10 per cent of men and 30 per cent of women have the event.
    both = cases(800, sex=["male", "female"])
    women = both["sex"] == "female"
    events = np.zeros(800, dtype=bool)
    events[np.flatnonzero(women)[:120]] = True
    events[np.flatnonzero(~women)[:40]] = True
    basis = risks.fit(both, events.tolist(), ("female",))
    found = risks.expected(basis, cases(2, sex=["male", "female"]))
    # Firth's estimate of a saturated two by two table is (events + 1/2) / (cases + 1) in each row.
    assert found == pytest.approx([40.5 / 401, 120.5 / 401], abs=1e-6)
    assert "logistic model (Firth) on female, from 160 events in 800 cases" in basis.words


def test_what_is_not_known_of_a_case_stands_at_the_baselines_mean() -> None:
    basis = Basis(100, 20, -1.0, (Term("age", 0.5, 4.0), Term("female", 1.0, 0.25)), "")
    unknown = cases(1, age_years=[None], sex=["unknown"])
    assert risks.expected(basis, unknown) == pytest.approx([1 / (1 + np.exp(1.0))])
    known = cases(1, age_years=[60], sex=["female"])
    odds = -1.0 + 0.5 * 2.0 + 1.0 * 0.75
    assert risks.expected(basis, known) == pytest.approx([1 / (1 + np.exp(-odds))])


def test_a_basis_is_kept_as_plain_values_and_read_back() -> None:
    basis = Basis(100, 20, -1.25, (Term("age", 0.5, 4.0),), "a model")
    assert risks.from_plain(json.loads(json.dumps(risks.to_plain(basis)))) == basis


def test_a_risk_never_reaches_the_ends() -> None:
    basis = Basis(100, 20, 30.0, (), "")
    assert risks.expected(basis, cases(1)).tolist() == [0.999]


def test_a_baseline_that_is_too_small_is_refused() -> None:
    with pytest.raises(ValueError, match="has 19 judged cases; an expected risk needs at least 20"):
        risks.fit(cases(19), [False] * 19, ())


def test_an_unknown_covariate_is_named() -> None:
    with pytest.raises(ValueError, match="'shoe' is not one of age, female, joint"):
        risks.fit(cases(40), [False] * 40, ("shoe",))


FACTS = {
    "unstable_class": ("neer", ["IIB", "V", "IIA", "I", None], [1, 1, 0, 0, None]),
    "high_energy": ("energy", ["high", "low", "unknown"], [1, 0, None]),
    "open": ("skin", ["open", "closed", "unknown"], [1, 0, None]),
    "wait": ("days_to_surgery", [0, 7, 21, None], [0, 1, 3, None]),
    "smoker": ("smoking", ["current", "former", "never", "unknown"], [1, 0, 0, None]),
    "diabetes": ("diabetes", ["yes", "no", "unknown"], [1, 0, None]),
    "bmi": ("bmi_kg_m2", [20.0, 30.0, None], [4, 6, None]),
    "dominant": ("injured_dominant", ["yes", "no", "unknown"], [1, 0, None]),
    "contact_sport": ("sport_demand", ["contact", "none", "unknown"], [1, 0, None]),
}


@pytest.mark.parametrize("code", FACTS)
def test_a_fact_is_a_number_and_unknown_is_none(code: str) -> None:
    column, given, wanted = FACTS[code]
    values = risks.COVARIATES[code].value(cases(len(given), **{column: given}))
    expected = [np.nan if one is None else float(one) for one in wanted]
    assert values == pytest.approx(expected, nan_ok=True)


def test_how_many_lack_a_fact_is_said_with_the_model() -> None:
    given = cases(800, sex=["male", "female"], smoking=["current", "never", "never", "unknown"])
    rng = np.random.default_rng(3)
    basis = risks.fit(given, (rng.random(800) < 0.2).tolist(), ("female", "smoker"))
    assert basis.words.endswith(
        "not known: smokes now of 200, where the mean of the others stands in"
    )
    assert [term.mean for term in basis.terms] == pytest.approx([0.5, 1 / 3])


def test_the_codes_of_every_fact_are_those_that_are_stored() -> None:
    known = {
        "neer": set(CLASS_CODES["neer"]),
        "energy": set(Energy.values),
        "skin": set(SkinState.values),
        "smoking": set(Smoking.values),
        "diabetes": set(YesNo.values),
        "sport_demand": set(SportDemand.values),
    }
    for code, (column, _, _) in FACTS.items():
        for stored in known.get(column, ()):
            value = risks.COVARIATES[code].value(cases(1, **{column: [stored]}))[0]
            assert np.isnan(value) == (stored == "unknown"), (code, stored)
