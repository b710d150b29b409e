from typing import Any

import pandas as pd
import pytest

from analytics.answers import balance
from analytics.answers.balance import Comparison
from analytics.endpoints.catalogue import DEFINITIONS, apply
from analytics.endpoints.definition import Data
from analytics.estimators.balance import difference_of_means, difference_of_shares
from tests.analytics.cohort import data, film, harm
from tests.analytics.followed import score, scores

NAMES = ("followed", "lost")


def compared(
    cohort: Data, one: list[int], pains: "list[dict[str, Any]] | tuple[()]" = ()
) -> Comparison:
    applied = apply(DEFINITIONS["rise-3mm"], cohort)
    cases = balance.with_early_results(
        applied, cohort.cases, cohort.complications, scores(list(pains))
    )
    two = cases.index.difference(pd.Index(one))
    return balance.compare(cases, pd.Index(one), two, NAMES)


def traits(found: Comparison) -> dict[str, balance.Trait]:
    return {trait.label: trait for trait in found.traits}


COHORT = data(
    [
        {"age_years": 30, "sex": "male", "construct_type": "LP"},
        {"age_years": 40, "sex": "female", "construct_type": "LP"},
        {"age_years": None, "sex": "male", "construct_type": "HP", "injury_kind": "ac_joint"},
        {"age_years": 60, "sex": None, "construct_type": None, "site": "south"},
        {"age_years": 70, "sex": "female", "construct_type": "HP"},
    ],
    [film(2, 9.0, procedure_id=1), film(80, 14.0, procedure_id=1)],
    [harm(30, procedure_id=4), harm(200, procedure_id=5)],
)


def test_age_is_compared_by_means_and_those_unknown_are_left_out() -> None:
    age = traits(compared(COHORT, [1, 2, 3]))["Age, years"]
    assert age.one == "35.0 (SD 7.1; 2 known)"
    assert age.two == "65.0 (SD 7.1; 2 known)"
    assert age.difference == difference_of_means([30, 40], [60, 70])
    assert age.apart


def test_sex_is_of_those_whose_sex_is_recorded() -> None:
    men = traits(compared(COHORT, [1, 2, 3]))["Men"]
    assert (men.one, men.two) == ("2/3 (67%)", "0/1 (0%)")
    assert men.difference == difference_of_shares(2 / 3, 0)


def test_every_construct_and_site_is_a_line_those_not_recorded_too() -> None:
    found = traits(compared(COHORT, [1, 2, 3]))
    assert (found["Construct LP"].one, found["Construct LP"].two) == ("2/3 (67%)", "0/2 (0%)")
    assert found["Construct not recorded"].two == "1/2 (50%)"
    assert found["Site south"].one == "0/3 (0%)"
    assert found["Fracture (not AC joint)"].one == "2/3 (67%)"


def test_what_all_share_is_no_line() -> None:
    labels = set(traits(compared(data([{}, {}, {}]), [1])))
    assert not any(label.startswith(("Site", "Construct")) for label in labels)


def test_early_results_are_those_found_by_three_months() -> None:
    pains = [
        score(4.0, "6w", procedure_id=1),
        score(6.0, "6w", procedure_id=2),
        score(9.0, "12m", procedure_id=2),
        score(2.0, "6w", procedure_id=4),
    ]
    found = traits(compared(COHORT, [1, 2, 3], pains))
    assert found["Event found by 3 months"].one == "1/3 (33%)"
    assert found["Complication found by 3 months"].two == "1/2 (50%)"
    pain = found["Pain at 6 weeks, 0 to 10"]
    assert (pain.one, pain.two) == ("5.0 (SD 1.4; 2 known)", "1 known")
    assert pain.difference is None
    assert not pain.apart


def test_groups_alike_lie_inside_the_line() -> None:
    alike = compared(data([{"age_years": 40 + n % 2} for n in range(8)]), [1, 2, 3, 4])
    assert not any(trait.apart for trait in alike.traits)
    assert alike.numbers == (4, 4)


@pytest.mark.parametrize("one", [[], [1, 2, 3, 4, 5]])
def test_with_nobody_on_one_side_there_is_nothing_to_compare(one: list[int]) -> None:
    found = compared(COHORT, one)
    assert found.traits == ()
    assert sum(found.numbers) == 5


def test_plain_rows_name_both_groups() -> None:
    rows = balance.to_rows(compared(COHORT, [1, 2, 3]))
    assert list(rows[0]) == [
        "characteristic",
        "followed (3)",
        "lost (2)",
        "standardised_difference",
    ]
