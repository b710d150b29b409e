import numpy as np
import pandas as pd
import pytest

from analytics.estimators.inputs import (
    as_codes,
    as_entries,
    as_groups,
    as_line,
    as_numbers,
    as_observed,
    as_times,
    check_level,
    counted,
)


def test_times_may_come_as_a_list_a_series_or_a_nullable_column() -> None:
    for given in ([1, 2.5], pd.Series([1, 2.5]), pd.array([1, 2.5], dtype="Float64")):
        assert as_times(given, "durations").tolist() == [1.0, 2.5]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ([], "at least one value"),
        ([[1.0, 2.0]], "at least one value"),
        ([1.0, np.nan], "missing or infinite"),
        ([1.0, np.inf], "missing or infinite"),
        ([1.0, -0.5], "must not be negative"),
        (["a day"], "numbers only"),
        ([pd.NA], "numbers only"),
    ],
)
def test_times_that_cannot_be_are_refused_in_words(given: list[object], words: str) -> None:
    with pytest.raises(ValueError, match=f"durations .*{words}"):
        as_times(given, "durations")  # type: ignore[arg-type]  # wrong on purpose


def test_codes_may_be_booleans_or_whole_floats() -> None:
    assert as_codes([True, False], np.zeros(2), "observed").tolist() == [1, 0]
    assert as_codes([2.0, 0.0], np.zeros(2), "causes").tolist() == [2, 0]


@pytest.mark.parametrize("given", [[0.5, 1], [-1, 0], [np.nan, 0]])
def test_codes_that_are_not_whole_numbers_are_refused(given: list[float]) -> None:
    with pytest.raises(ValueError, match="causes must hold whole numbers"):
        as_codes(given, np.zeros(2), "causes")


def test_unequal_lengths_are_refused_with_both_lengths() -> None:
    with pytest.raises(ValueError, match="durations has 2 values, observed has 3"):
        as_codes([0, 1, 1], np.zeros(2), "observed")
    with pytest.raises(ValueError, match="durations has 2 values, entry has 1"):
        as_entries([0], np.array([1.0, 2.0]))


def test_nobody_enters_at_or_after_the_end() -> None:
    with pytest.raises(ValueError, match="each entry must be before its duration"):
        as_entries([0, 2], np.array([1.0, 2.0]))


def test_a_missing_number_is_passed_on() -> None:
    assert np.isnan(as_numbers([None, 1.0], "weights")).tolist() == [True, False]


@pytest.mark.parametrize("level", [0, 1, 95, -0.5, np.nan])
def test_a_level_outside_nought_and_one_is_refused(level: float) -> None:
    with pytest.raises(ValueError, match="the level must lie between 0 and 1"):
        check_level(level)


def test_whole_times_are_counted_day_by_day_and_others_are_sorted() -> None:
    points, place = as_line([3.0, 1.0, 3.0], "durations")
    assert points.tolist() == [0, 1, 2, 3]
    assert place.tolist() == [3, 1, 3]
    for times, distinct in (([3.5, 1.0, 3.5], [1.0, 3.5]), ([1e9, 1.0, 1e9], [1.0, 1e9])):
        points, place = as_line(times, "durations")
        assert points.tolist() == distinct
        assert place.tolist() == [1, 0, 1]


@pytest.mark.parametrize("given", [[0, 2], [0.0, 3.0]])
def test_what_was_observed_is_yes_or_no(given: list[float]) -> None:
    with pytest.raises(ValueError, match="observed must hold only 0 and 1"):
        as_observed(given, np.zeros(2))


@pytest.mark.parametrize(
    ("labels", "codes", "distinct"),
    [
        ([5, 2, 5], [1, 0, 1], [2, 5]),
        ([0, 2, 1], [0, 2, 1], [0, 1, 2]),
        ([-1, 7, -1], [0, 1, 0], [-1, 7]),
        (["plate", "hook", "plate"], [1, 0, 1], ["hook", "plate"]),
        (pd.Series(["b", "a", "b"], dtype="category"), [1, 0, 1], ["a", "b"]),
        ([True, False, True], [1, 0, 1], [False, True]),
    ],
)
def test_groups_may_have_any_labels(
    labels: list[object], codes: list[int], distinct: list[object]
) -> None:
    found, names = as_groups(labels, 3, "groups")  # type: ignore[arg-type]  # any label
    assert found.tolist() == codes
    assert names.tolist() == distinct


@pytest.mark.parametrize(
    ("labels", "words"),
    [
        ([1, 2], "durations has 3 values, groups has 2"),
        (["a", None, "b"], "groups must not hold missing values"),
        ([1.0, np.nan, 2.0], "groups must not hold missing values"),
        (pd.array(["a", pd.NA, "b"], dtype="string"), "groups must not hold missing values"),
    ],
)
def test_groups_that_do_not_fit_are_refused(labels: list[object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        as_groups(labels, 3, "groups")  # type: ignore[arg-type]  # wrong on purpose


def test_cells_of_a_table_are_counted() -> None:
    found = counted((np.array([0, 1, 1, 1]), 2), (np.array([2, 0, 2, 2]), 3))
    assert found.tolist() == [[0, 0, 1], [1, 0, 2]]
    found = counted((np.array([1]), 2), (np.array([0]), 1), (np.array([1]), 2))
    assert found.tolist() == [[[0, 0]], [[0, 1]]]
