from typing import Any

import pandas as pd
import pytest

from analytics.answers.covariates import COVARIATES, design


def cases(**columns: list[Any]) -> pd.DataFrame:
    return pd.DataFrame(columns, index=range(1, 1 + len(next(iter(columns.values())))))


def test_a_number_is_counted_in_steps_that_mean_something() -> None:
    found = design(cases(age_years=pd.array([30, 45, 60], "Int64")), ["age_years"])  # type: ignore[arg-type]
    assert found.columns["age_years"].tolist() == [3.0, 4.5, 6.0]
    assert found.terms == {"age_years": "age, per 10 years"}


def test_codes_stand_against_the_commonest() -> None:
    found = design(cases(smoking=["never", "current", "never", "former"]), ["smoking"])
    assert found.columns.to_dict("list") == {
        "smoking=current": [0.0, 1.0, 0.0, 0.0],
        "smoking=former": [0.0, 0.0, 0.0, 1.0],
    }
    assert found.terms["smoking=current"] == "smoking: current against never"


def test_whoever_lacks_a_covariate_is_left_out_and_counted() -> None:
    found = design(
        cases(
            sex=["male", "female", "unknown", "male"],
            smoking=["unknown", "never", "current", "current"],
            bmi_kg_m2=[25.0, 30.0, float("nan"), 20.0],
        ),
        ["sex", "smoking", "bmi_kg_m2"],
    )
    assert found.columns.index.tolist() == [2, 4]
    assert found.left_out == {"sex": 1, "smoking": 1, "body mass index, per 5 kg/m²": 1}


def test_what_never_varies_gives_no_column() -> None:
    assert design(cases(sex=["male", "male"]), ["sex"]).columns.empty
    assert design(cases(age_years=[40, 40]), ["age_years"]).columns.empty


def test_nothing_asked_for_leaves_nobody_out() -> None:
    found = design(cases(sex=["male", "unknown"]), [])
    assert (found.columns.index.tolist(), found.left_out) == ([1, 2], {})


def test_nobody_known_gives_no_columns() -> None:
    found = design(cases(sex=["unknown", None]), ["sex"])
    assert (len(found.columns), found.left_out) == (0, {"sex": 2})


@pytest.mark.parametrize(
    ("name", "words"),
    [("shoe_size", "is not one of age_years"), ("energy", "no column 'energy' to adjust for")],
)
def test_a_covariate_that_there_is_not_is_refused(name: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        design(cases(sex=["male"]), [name])


def test_every_covariate_has_its_words() -> None:
    assert all(one.words for one in COVARIATES.values())
