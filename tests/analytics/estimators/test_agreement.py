import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm, t

from analytics.estimators.agreement import (
    MODELS,
    Model,
    icc,
    kappa,
    limits_of_agreement,
    mean_squares,
    minimal_detectable_change,
)

tables = st.integers(2, 5).flatmap(
    lambda raters: st.lists(
        st.lists(st.integers(0, 9), min_size=raters, max_size=raters), min_size=2, max_size=15
    )
)
Table = list[list[int]]


@given(tables)
def test_mean_squares_are_those_of_the_sums_written_out(table: Table) -> None:
    found = mean_squares(table)
    n, k = len(table), len(table[0])
    grand = sum(map(sum, table)) / (n * k)
    rows = [sum(row) / k for row in table]
    columns = [sum(row[j] for row in table) / n for j in range(k)]
    assert found.between == pytest.approx(k * sum((one - grand) ** 2 for one in rows) / (n - 1))
    assert found.by_rater == pytest.approx(n * sum((one - grand) ** 2 for one in columns) / (k - 1))
    within = sum((x - rows[i]) ** 2 for i, row in enumerate(table) for x in row)
    assert found.within == pytest.approx(within / (n * (k - 1)))
    rest = within - found.by_rater * (k - 1)
    assert found.residual == pytest.approx(rest / ((n - 1) * (k - 1)), abs=1e-9)


@given(tables)
def test_an_icc_is_its_share_of_variance_within_its_interval(table: Table) -> None:
    found = {model: icc(table, model) for model in MODELS}  # type: ignore[arg-type]
    squares = found["ICC(1,1)"].squares
    n, k = squares.subjects, squares.raters
    if squares.within == 0 == squares.between:
        assert all(math.isnan(one.estimate) for one in found.values())
        return
    # Variances as random-effects analysis gives them, left below 0 where they come out so.
    of_subjects = (squares.between - squares.within) / k
    assert found["ICC(1,1)"].estimate == pytest.approx(of_subjects / (of_subjects + squares.within))
    of_subjects = (squares.between - squares.residual) / k
    both = of_subjects + (squares.by_rater - squares.residual) / n + squares.residual
    if abs(both) > 1e-9:
        assert found["ICC(2,1)"].estimate == pytest.approx(of_subjects / both)
    if squares.between + squares.residual > 0:
        consistent = of_subjects / (of_subjects + squares.residual)
        assert found["ICC(3,1)"].estimate == pytest.approx(consistent)
    for kind in "123":
        one, mean = found[f"ICC({kind},1)"], found[f"ICC({kind},k)"]
        if one.estimate > 0:
            stepped = k * one.estimate / (1 + (k - 1) * one.estimate)
            assert mean.estimate == pytest.approx(stepped)
            assert one.low <= one.estimate + 1e-9
            assert one.estimate <= one.high + 1e-9


def test_what_two_subjects_leave_undefined_is_said_to_be() -> None:
    assert math.isnan(icc([[0, 1], [1, 0]], "ICC(2,1)").estimate)
    alike = icc([[0, 1], [0, 1]], "ICC(2,1)")
    assert alike.estimate == 0
    assert math.isnan(alike.low)
    assert math.isnan(icc([[0, 1], [0, 1]], "ICC(3,1)").estimate)


@pytest.mark.parametrize(
    ("model", "truth"), [("ICC(1,1)", 0.5), ("ICC(3,1)", 2 / 3), ("ICC(2,1)", 0.5)]
)
def test_the_interval_holds_a_known_truth_as_often_as_it_says(model: Model, truth: float) -> None:
    rng = np.random.default_rng(11)
    held, rounds = 0, 800
    for _ in range(rounds):
        subjects, raters = rng.normal(size=(30, 1)), rng.normal(size=(1, 8)) * math.sqrt(0.5)
        noise = rng.normal(size=(30, 8))
        table = subjects + (noise if model == "ICC(1,1)" else raters + noise * math.sqrt(0.5))
        found = icc(table, model)
        held += found.low <= truth <= found.high
    assert held / rounds == pytest.approx(0.95, abs=0.025)


def test_rows_with_a_missing_rating_are_left_out_and_counted() -> None:
    whole = [[1, 2], [3, 5], [6, 6]]
    found = icc([*whole, [4, math.nan], [math.nan, math.nan]], "ICC(2,1)")
    assert found.squares.left_out == 2
    assert found.estimate == icc(whole, "ICC(2,1)").estimate
    assert minimal_detectable_change([*whole, [4, None]]).left_out == 1  # type: ignore[list-item]


@pytest.mark.parametrize("model", MODELS)
def test_raters_who_never_differ_agree_wholly(model: Model) -> None:
    found = icc([[0.1, 0.1], [0.7, 0.7], [0.3, 0.3]], model)
    assert (found.estimate, found.low, found.high) == (1, 1, 1)


@pytest.mark.parametrize("model", MODELS)
def test_where_all_ratings_are_equal_nothing_is_known(model: Model) -> None:
    assert math.isnan(icc([[0.1, 0.1], [0.1, 0.1], [0.1, 0.1]], model).estimate)


def test_a_constant_shift_lowers_agreement_and_not_consistency() -> None:
    table = np.array([[1.0, 1.0], [4.0, 4.0], [6.0, 6.0]]) + np.array([0, 2])
    assert icc(table, "ICC(3,1)").estimate == pytest.approx(1)
    agreement = icc(table, "ICC(2,1)")
    assert 0 < agreement.low < agreement.estimate < 1
    assert minimal_detectable_change(table, "consistency").estimate == 0
    # Own arithmetic: a variance of raters of 2, and nothing else.
    assert minimal_detectable_change(table).estimate == pytest.approx(1.959964 * math.sqrt(2 * 2))


@pytest.mark.parametrize(
    ("ratings", "model", "words"),
    [
        ([[1, 2], [3, 4]], "ICC(4,1)", "the model must be one of ICC"),
        ([1, 2, 3], "ICC(1,1)", "at least two columns"),
        ([[1], [2]], "ICC(1,1)", "at least two columns"),
        ([], "ICC(1,1)", "at least two columns"),
        ([[1, 2], [3, math.nan]], "ICC(1,1)", "at least two subjects must have all ratings, got 1"),
        ([[1, 2], [3, math.inf]], "ICC(1,1)", "must not hold infinite values"),
        ([["a", "b"], ["c", "d"]], "ICC(1,1)", "ratings must hold numbers only"),
    ],
)
def test_ratings_that_cannot_be_are_refused(ratings: Any, model: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        icc(ratings, model)


def test_the_detectable_change_holds_its_share_of_differences_without_change() -> None:
    rng = np.random.default_rng(2)
    truth = rng.normal(0, 5, 4000)
    table = truth[:, None] + rng.normal(0, 1.5, (4000, 2))
    for error in ("consistency", "within", "agreement"):
        found = minimal_detectable_change(table, error)  # type: ignore[arg-type]
        exceeded = (np.abs(table[:, 0] - table[:, 1]) > found.estimate).mean()
        assert exceeded == pytest.approx(0.05, abs=0.012)
        assert found.low < 1.959964 * math.sqrt(2) * 1.5 < found.high
    with pytest.raises(
        ValueError, match="the error must be 'agreement', 'consistency' or 'within'"
    ):
        minimal_detectable_change(table, "between")  # type: ignore[arg-type]


pairs = st.lists(st.tuples(st.integers(-40, 40), st.integers(-40, 40)), min_size=2, max_size=30)


@given(pairs, st.floats(0.5, 0.99))
def test_limits_are_the_mean_and_so_many_deviations(
    given_pairs: list[tuple[int, int]], level: float
) -> None:
    a, b = zip(*given_pairs, strict=True)
    found = limits_of_agreement(a, b, level)
    apart = np.subtract(a, b)
    n, sd = len(apart), apart.std(ddof=1)
    assert found.estimate == found.mean.estimate == pytest.approx(apart.mean())
    assert found.high - found.estimate == pytest.approx(norm.ppf(0.5 + level / 2) * sd, abs=1e-9)
    half = t.ppf(0.5 + level / 2, n - 1) * sd / math.sqrt(n)
    assert found.mean.high - found.mean.estimate == pytest.approx(half, abs=1e-9)
    assert (found.lower.estimate, found.upper.estimate) == (found.low, found.high)
    turned = limits_of_agreement(b, a, level)
    assert (turned.low, turned.upper.high) == pytest.approx((-found.high, -found.lower.low))


def test_the_interval_of_a_limit_holds_it_as_often_as_it_says() -> None:
    rng = np.random.default_rng(3)
    held, rounds = 0, 1500
    for _ in range(rounds):
        found = limits_of_agreement(rng.normal(1, 2, 40), np.zeros(40), factor=2)
        held += found.upper.low <= 1 + 2 * 2 <= found.upper.high
    assert held / rounds == pytest.approx(0.95, abs=0.02)


def test_pairs_with_a_gap_are_left_out_and_counted() -> None:
    found = limits_of_agreement([1, 2, math.nan, 4], [1, 1, 2, math.nan])
    assert (found.pairs, found.left_out, found.estimate) == (2, 2, 0.5)


@pytest.mark.parametrize(
    ("a", "b", "factor", "words"),
    [
        ([1, 2], [1], None, "a has 2 values, b has 1"),
        ([1, math.nan], [1, 2], None, "at least two pairs must be whole, got 1"),
        ([], [], None, "at least two pairs must be whole, got 0"),
        ([1, 2], [1, 3], -2, "the factor must be above 0"),
        ([[1, 2]], [[1, 3]], None, "a has 2 values"),
    ],
)
def test_pairs_that_cannot_be_are_refused(a: Any, b: Any, factor: float, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        limits_of_agreement(a, b, factor=factor)


graded = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), min_size=4, max_size=60)


@given(graded, st.sampled_from([None, "linear", "quadratic"]))
def test_kappa_and_its_error_equal_statsmodels(grades: list[tuple[int, int]], weights: Any) -> None:
    from statsmodels.stats.inter_rater import cohens_kappa  # noqa: PLC0415  # heavy

    a, b = zip(*grades, strict=True)
    found = kappa(a, b, weights, categories=range(4))
    table = np.zeros((4, 4))
    for one, two in grades:
        table[one, two] += 1
    if found.by_chance > 1 - 1e-12:
        assert math.isnan(found.estimate)
        return
    with np.errstate(invalid="ignore", divide="ignore"):
        theirs = cohens_kappa(table, wt=weights)
    assert found.estimate == pytest.approx(theirs.kappa, abs=1e-9)
    assert found.std_error == pytest.approx(math.sqrt(max(theirs.var_kappa, 0)), abs=1e-6)


@given(graded)
def test_kappa_is_agreement_beyond_chance_counted_out(grades: list[tuple[int, int]]) -> None:
    a, b = zip(*grades, strict=True)
    found = kappa(a, b)
    n = len(grades)
    observed = sum(one == two for one, two in grades) / n
    chance = sum((a.count(grade) / n) * (b.count(grade) / n) for grade in range(4))
    assert found.observed == pytest.approx(observed)
    assert found.by_chance == pytest.approx(chance)
    if chance < 1 - 1e-12:
        assert found.estimate == pytest.approx((observed - chance) / (1 - chance))


def test_numbers_are_weighed_by_their_distance_and_words_by_their_place() -> None:
    a, b = [0, 0, 1, 3, 3, 1], [0, 1, 1, 3, 1, 1]
    # Nobody used 2, and 3 is still two steps from 1.
    assert kappa(a, b, "linear").estimate == kappa(a, b, "linear", categories=range(4)).estimate
    names = {0: "none", 1: "mild", 3: "gross"}
    words = [[names[one] for one in column] for column in (a, b)]
    placed = kappa(*words, "linear", categories=["none", "mild", "gross"])
    assert placed.estimate == kappa([0, 0, 1, 2, 2, 1], [0, 1, 1, 2, 1, 1], "linear").estimate


def test_a_matrix_may_say_agreement_or_disagreement() -> None:
    a, b = [0, 1, 2, 2, 1, 0], [0, 1, 1, 2, 2, 1]
    apart = np.array([[0, 1, 4], [1, 0, 1], [4, 1, 0]])
    quadratic = kappa(a, b, "quadratic").estimate
    assert kappa(a, b, apart).estimate == pytest.approx(quadratic)
    assert kappa(a, b, 1 - apart / 4).estimate == pytest.approx(quadratic)


def test_gaps_are_left_out_and_readers_of_one_mind_have_kappa_one() -> None:
    found = kappa(pd.Series(["a", "b", None, "b"]), pd.Series(["a", "b", "a", None]))
    assert (found.pairs, found.left_out) == (2, 2)
    assert (found.estimate, found.low, found.high) == (1, 1, 1)


def test_one_category_alone_leaves_nothing_beyond_chance() -> None:
    found = kappa([1, 1, 1], [1, 1, 1])
    assert math.isnan(found.estimate)
    assert found.observed == found.by_chance == 1


@pytest.mark.parametrize(
    ("a", "b", "more", "words"),
    [
        ([1, 2], [1], {}, "a has 2 values, b has 1"),
        ([], [], {}, "there is no whole pair"),
        ([None, 1], [1, None], {}, "there is no whole pair"),
        ([1, 2], [1, 3], {"categories": [1, 2]}, "a value is not among the categories 1, 2"),
        (["x", "y"], ["x", "x"], {"weights": "linear"}, "words have no distance"),
        ([1, 2], [1, 1], {"weights": "cubic"}, "weights must be 'linear', 'quadratic'"),
        ([1, 2], [1, 1], {"weights": [[1]]}, "weights must be 2 x 2 numbers"),
        ([1, 2], [1, 1], {"weights": [[0, 1], [1, 2]]}, "weights must have 0, or their greatest"),
        ([1, 2], [1, 1], {"level": 95}, "the level must lie between 0 and 1"),
    ],
)
def test_grades_that_cannot_be_are_refused(a: Any, b: Any, more: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        kappa(a, b, **more)
