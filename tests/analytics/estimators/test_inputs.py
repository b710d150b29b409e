import numpy as np
import pandas as pd
import pytest

from analytics.estimators.inputs import as_codes, as_entries, as_numbers, as_times, check_level


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
    times = np.array([1.0, 2.0])
    assert as_codes([True, False], times, "observed").tolist() == [1, 0]
    assert as_codes([2.0, 0.0], times, "causes").tolist() == [2, 0]


@pytest.mark.parametrize("given", [[0.5, 1], [-1, 0], [np.nan, 0]])
def test_codes_that_are_not_whole_numbers_are_refused(given: list[float]) -> None:
    with pytest.raises(ValueError, match="causes must hold whole numbers"):
        as_codes(given, np.array([1.0, 2.0]), "causes")


def test_unequal_lengths_are_refused_with_both_lengths() -> None:
    with pytest.raises(ValueError, match="durations has 2 values, observed has 3"):
        as_codes([0, 1, 1], np.array([1.0, 2.0]), "observed")
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
