import math
from typing import Any

import pytest

from analytics.answers.comparison import COX, LOGISTIC, Comparison, answer, to_rows
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import DEFINITIONS
from analytics.endpoints.definition import Data
from analytics.estimators.proportions import newcombe_difference, risk_ratio
from tests.analytics.cohort import data, film, on

YEAR, RISE = HORIZONS["12m"], DEFINITIONS["rise-3mm"]


def cohort(*members: tuple[int, dict[str, Any], bool]) -> Data:
    """Return so many cases each of a kind, held for a year or lost at three months."""
    cases, films = [], []
    for number, case, lost in members:
        for place in range(number):
            cases.append(case)
            later = (90, 14.0) if lost else (400 + place, 9.1)
            films += [
                film(2, 9.0, procedure_id=len(cases)),
                film(*later, procedure_id=len(cases)),
            ]
    return data(cases, films)


def two_groups(**options: Any) -> Comparison:
    lp, hp = {"construct_type": "LP"}, {"construct_type": "HP"}
    given = cohort((8, lp, True), (32, lp, False), (14, hp, True), (36, hp, False))
    return answer(given, RISE, YEAR, **options)


def test_each_group_stands_against_the_largest_with_its_interval() -> None:
    found = two_groups()
    assert (found.against, found.reference.events, found.reference.evaluable) == ("HP", 14, 50)
    (one,) = found.contrasts
    assert one.group == "LP"
    assert one.difference == newcombe_difference(8, 40, 14, 50)
    assert one.ratio == risk_ratio(8, 40, 14, 50)
    assert found.sentence == (
        "By 12 months: LP 20.0%, -8.0 points (-24.6 to +10.1) against HP, so that either may have the higher rate."
    )


def test_published_counts_give_the_published_difference() -> None:
    """Newcombe, Stat Med 1998;17:873-890, Table II (a): 56/70 against 48/80: 0.0524 to 0.3339."""
    lp, hp = {"construct_type": "LP"}, {"construct_type": "HP"}
    given = cohort((56, lp, True), (14, lp, False), (48, hp, True), (32, hp, False))
    (one,) = answer(given, RISE, YEAR, against="HP").contrasts
    assert one.difference.estimate == pytest.approx(0.2)
    assert (one.difference.low, one.difference.high) == pytest.approx((0.0524, 0.3339), abs=5e-5)
    assert "an interval without 0" in answer(given, RISE, YEAR, against="HP").sentence


def test_another_group_can_be_compared_with() -> None:
    found = two_groups(against="LP")
    assert [one.group for one in found.contrasts] == ["HP"]
    assert found.contrasts[0].difference.estimate == pytest.approx(0.08)
    assert found.candidates == ("HP", "LP")


@pytest.mark.parametrize(
    ("against", "words"), [("XX", "none of the groups"), ("TG", "has too few who can be judged")]
)
def test_a_group_that_cannot_be_compared_with_is_refused(against: str, words: str) -> None:
    given = cohort(
        (9, {"construct_type": "LP"}, False),
        (9, {"construct_type": "HP"}, False),
        (2, {"construct_type": "TG"}, False),
    )
    assert answer(given, RISE, YEAR).too_few == ("TG",)
    with pytest.raises(ValueError, match=words):
        answer(given, RISE, YEAR, against=against)


def test_without_a_covariate_the_model_says_what_the_table_says() -> None:
    logistic, cox = two_groups().models
    assert (logistic.kind, logistic.used, logistic.events) == (LOGISTIC, 90, 22)
    (effect,) = logistic.groups
    # Firth's estimate of a two-by-two table is that with a half added to each cell.
    assert effect.adjusted.estimate == pytest.approx((8.5 / 32.5) / (14.5 / 36.5), rel=1e-6)
    assert effect.unadjusted == effect.adjusted
    assert (cox.kind, cox.used, cox.events) == (COX, 90, 22)
    assert 0.3 < cox.groups[0].adjusted.estimate < 1.0


def confounded() -> Data:
    """Within each sex both constructs lose alike; women lose more, and mostly have the hook."""
    parts = []
    for sex, code, lost, held in (
        ("male", "LP", 10, 90),
        ("male", "HP", 2, 18),
        ("female", "LP", 8, 12),
        ("female", "HP", 40, 60),
    ):
        case = {"sex": sex, "construct_type": code}
        parts += [(lost, case, True), (held, case, False)]
    return cohort(*parts)


def test_adjusting_takes_away_what_was_the_covariates() -> None:
    logistic, cox = answer(confounded(), RISE, YEAR, against="LP", covariates=["sex"]).models
    for model in (logistic, cox):
        (effect,) = model.groups
        assert effect.unadjusted is not None
        assert effect.unadjusted.estimate > 1.8
        assert effect.adjusted.estimate == pytest.approx(1.0, abs=0.08)
        assert effect.adjusted.low < 1 < effect.adjusted.high
        (other,) = model.others
        assert other.term == "sex: male against female" or other.term.startswith("sex: female")
        assert other.unadjusted is None


def test_whoever_lacks_a_covariate_is_left_out_and_both_fits_are_of_the_same_cases() -> None:
    given = confounded()
    given.cases.loc[given.cases.index[:5], "sex"] = "unknown"
    found = answer(given, RISE, YEAR, covariates=["sex"])
    assert found.left_out == {"sex": 5}
    assert {model.used for model in found.models} == {235}
    assert found.reference.evaluable + found.contrasts[0].own.evaluable == 240


def test_too_few_events_are_refused_in_words_that_name_how_many_are_needed() -> None:
    lp, hp = {"construct_type": "LP"}, {"construct_type": "HP"}
    given = cohort((2, lp, True), (20, lp, False), (2, hp, True), (20, hp, False))
    for model in answer(given, RISE, YEAR).models:
        assert model.groups == ()
        assert "1 coefficient would need at least 5 with the event and 5 without" in model.refused
        assert "there are 4 and 40" in model.refused
        assert "Am J Epidemiol 2007;165:710" in model.refused
    # Nor can the few without the event carry it.
    most = cohort((20, lp, True), (2, lp, False), (20, hp, True), (2, hp, False))
    assert "there are 40 and 4" in answer(most, RISE, YEAR).models[0].refused


def test_a_revision_ends_the_watch_of_the_hazard_and_is_no_event_of_the_odds() -> None:
    lp, hp = {"construct_type": "LP"}, {"construct_type": "HP"}
    gone = {**lp, "revised_on": on(60)}
    given = cohort(
        (8, lp, True), (10, lp, False), (10, gone, False), (9, hp, True), (20, hp, False)
    )
    logistic, cox = answer(given, RISE, YEAR).models
    assert (logistic.used, logistic.events) == (57, 17)
    assert (cox.used, cox.events) == (57, 17)


def test_one_group_alone_has_nothing_to_be_compared_with() -> None:
    found = answer(cohort((9, {}, False)), RISE, YEAR)
    assert (found.contrasts, found.models) == ((), ())
    assert found.sentence.startswith("No two groups have enough")
    assert answer(data([]), RISE, YEAR).contrasts == ()


def test_several_comparisons_say_that_chance_has_several_goes() -> None:
    given = cohort(*[(9, {"construct_type": code}, False) for code in ("LP", "HP", "TG")])
    assert "These are 2 comparisons at once" in answer(given, RISE, YEAR).sentence


def test_covariates_that_follow_from_the_groups_are_refused_in_words() -> None:
    given = confounded()
    given.cases["skin"] = given.cases["construct_type"].map({"LP": "open", "HP": "closed"})
    found = answer(given, RISE, YEAR, covariates=["skin"])
    assert all(model.refused.startswith("No fit: ") for model in found.models)


def test_rows_for_a_file_name_measure_and_adjustment() -> None:
    rows = to_rows(answer(confounded(), RISE, YEAR, against="LP", covariates=["sex"]))
    assert [(row["measure"], row["adjusted"]) for row in rows[:4]] == [
        ("difference", "no"),
        ("ratio", "no"),
        (LOGISTIC, "no"),
        (LOGISTIC, "yes"),
    ]
    assert rows[0]["group"] == "HP"
    assert all(math.isfinite(row["estimate"]) for row in rows)


@pytest.mark.parametrize("wrong", [{"by": "shoe_size"}, {"covariates": ["shoe_size"]}])
def test_a_column_that_the_cases_lack_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="shoe_size"):
        two_groups(**wrong)
