from analytics.figures.words import curve_words, forest_words
from tests.analytics.figures.results import result


def test_rates_are_said_with_counts_and_intervals() -> None:
    words = forest_words(result({"HP": (5, 1, 2), "LP": (8, 2, 0)}))
    assert words == (
        "Rates by 12 months with 95% intervals. "
        "HP: 1 of 6, 16.7% (3.0% to 56.4%); LP: 2 of 10, 20.0% (5.7% to 51.0%); "
        "all: 3 of 16, 18.8% (6.6% to 43.0%). The intervals of all groups overlap, "
        "which does not show that their rates are alike."
    )


def test_intervals_that_stand_apart_are_named() -> None:
    words = forest_words(result({"HP": (5, 35, 0), "LP": (38, 2, 0)}))
    assert words.endswith("Intervals that do not overlap: HP and LP.")


def test_many_pairs_that_stand_apart_are_counted() -> None:
    apart = {"A": (5, 35, 0), "B": (5, 35, 0), "C": (38, 2, 0), "D": (38, 2, 0)}
    assert forest_words(result(apart)).endswith(
        "4 pairs of groups have intervals that do not overlap."
    )


def test_one_group_has_nothing_to_overlap_with() -> None:
    assert "overlap" not in forest_words(result({"LP": (8, 2, 0)}))


def test_curves_are_said_by_their_height_at_the_horizon_and_where_they_end() -> None:
    words = curve_words(result({"LP": (8, 2, 0), "TG": (3, 2, 0)}))
    assert "By 12 months: LP 20.0% (" in words
    assert "8 still at risk" in words
    assert "TG" not in words
    assert words.endswith("Each curve ends where fewer than 5 remain at risk.")


def test_curves_that_all_end_early_have_no_height_to_say() -> None:
    assert "too few remain at risk in every group" in curve_words(result({"TG": (3, 2, 0)}))


def test_nothing_to_draw_is_said() -> None:
    empty = result({})
    assert forest_words(empty) == "No group can be judged at this horizon yet."
    assert curve_words(empty) == "No curve can be drawn: too few cases have been followed."
