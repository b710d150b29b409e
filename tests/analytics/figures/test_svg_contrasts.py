from dataclasses import replace
from math import inf

from analytics.answers.comparison import Effect
from analytics.estimators.results import Estimate
from analytics.figures.svg_contrasts import differences, dots, ratios
from tests.analytics.figures.sheets import faults, words_of
from tests.analytics.figures.test_balance import FOUND
from tests.analytics.figures.test_contrasts import MODEL, found


def test_differences_stand_about_nought_with_counts_and_nothing_is_cut() -> None:
    sheet = differences(found())
    assert faults(sheet) == []
    assert {"LP", "5/20", "TG", "1/10", "0"} <= set(words_of(sheet))
    assert sheet.words == found().sentence


def test_ratios_stand_on_a_log_axis_open_as_they_are_and_filled_adjusted() -> None:
    sheet = ratios(MODEL, "HP")
    assert faults(sheet) == []
    words = words_of(sheet)
    assert {"LP, as it is", "LP, adjusted", "1", "2", "1.50 (0.80 to 3.00)"} <= set(words)
    fills = [one.attributes["fill"] for one in sheet.shapes if one.tag == "path"]
    assert fills.count("#ffffff") == 1


def test_a_ratio_without_limit_runs_to_the_edge_and_says_so() -> None:
    effect = Effect("LP against HP", None, Estimate(30.0, 2.0, inf))
    sheet = ratios(replace(MODEL, groups=(effect,)), "HP")
    assert faults(sheet) == []
    assert "30.00 (2.00 to without limit)" in words_of(sheet)


def test_standardised_differences_stand_with_both_groups_numbers() -> None:
    sheet = dots(FOUND)
    assert faults(sheet) == []
    words = words_of(sheet)
    assert {"followed (30)", "lost (10)", "20/30 (67%)", "6/10 (60%)", "-0.70"} <= set(words)
    # What cannot be formed has no place on the axis.
    assert "Pain at 6 weeks, 0 to 10" not in words
    squares = [one for one in sheet.shapes if one.tag == "path" and one.text == ""]
    assert len(squares) == 2
