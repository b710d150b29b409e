"""The figure of two readings of each film."""

import pandas as pd

from analytics.answers import agreement
from analytics.answers.agreement import MEASUREMENTS
from analytics.figures.agreement import LARGEST_PX, apart, apart_words
from tests.analytics.answers.test_agreement import FIRST, THIRD, said

LENGTH = MEASUREMENTS["ccd_injured_mm"]


def test_films_with_the_same_numbers_are_one_point_that_says_how_many() -> None:
    made = said([9.0, 9.0, 9.0, 12.0, 11.0], [8.0, 8.0, 8.0, 12.5, 11.0])
    whole = agreement.answer(made, {}).whole(LENGTH.code)
    (points,) = apart(whole, agreement.differences(made, LENGTH))["data"]
    shown = dict(zip(zip(points["x"], points["y"], strict=True), points["customdata"], strict=True))
    assert shown == {(8.5, -1.0): 3, (11.0, 0.0): 1, (12.2, 0.5): 1}
    assert max(points["marker"]["size"]) == LARGEST_PX


def test_the_lines_are_the_mean_and_both_limits_with_their_bands() -> None:
    made = said(FIRST, THIRD)
    whole = agreement.answer(made, {}).whole(LENGTH.code)
    assert whole.limits is not None
    figure = apart(whole, agreement.differences(made, LENGTH), assumed=2.0)
    lines = [one["y0"] for one in figure["layout"]["shapes"] if one["type"] == "line"]
    assert lines == [whole.limits.mean.estimate, whole.limits.low, whole.limits.high, -2.0, 2.0]
    bands = [one for one in figure["layout"]["shapes"] if one["type"] == "rect"]
    assert (bands[0]["y0"], bands[0]["y1"]) == (whole.limits.mean.low, whole.limits.mean.high)
    said_beside = [one["text"] for one in figure["layout"]["annotations"]]
    assert "assumed +2.0" in said_beside
    assert "mean -3.3" in said_beside


def test_too_few_films_are_points_without_lines() -> None:
    made = said(FIRST[:2], THIRD[:2])
    whole = agreement.answer(made, {}).whole(LENGTH.code)
    figure = apart(whole, agreement.differences(made, LENGTH))
    assert len(figure["data"][0]["x"]) == 2
    assert figure["layout"].get("shapes", []) == []
    assert "2 films read twice, too few for lines" in apart_words(whole)
    nothing = said([], [])
    empty = agreement.answer(nothing, {}).whole(LENGTH.code)
    assert apart(empty, agreement.differences(nothing, LENGTH))["data"][0]["x"] == []
    assert isinstance(agreement.differences(nothing, LENGTH), pd.DataFrame)


def test_the_words_say_what_the_lines_show() -> None:
    words = apart_words(agreement.answer(said(FIRST, THIRD), {}).whole(LENGTH.code))
    assert "6 films. Mean difference -3.33 mm" in words
    assert "19 in 20 lie between -5.7" in words
