import json

import pytest

from analytics.answers.enough import EnoughAnswer, Side, answer
from analytics.figures.enough import power_words, powers, width_words, widths


def found(rate: float | None = 0.1, a_year: float = 15) -> EnoughAnswer:
    one = Side("LP", 3, 30 if rate is not None else 0, 30, a_year, rate, a_year)
    return answer(one, Side("HP", 9, 30, 30, a_year, 0.3, a_year))


def test_each_year_has_its_interval_with_the_width_above() -> None:
    shown = found()
    bars, texts = widths(shown)["data"]
    assert bars["x"] == [year.years for year in shown.years]
    first = shown.years[0].interval
    top = bars["y"][0] + bars["error_y"]["array"][0]
    assert top == pytest.approx(first.high * 100)
    assert texts["text"][0] == f"{shown.years[0].width * 100:.0f}"


def test_no_difference_is_a_line_of_its_own() -> None:
    axis = widths(found())["layout"]["yaxis"]
    assert axis["zeroline"]
    assert axis["range"][0] < 0 < axis["range"][1]


def test_power_stands_against_four_in_five() -> None:
    figure = powers(found())
    assert figure["layout"]["shapes"][0]["y0"] == 80
    assert figure["data"][0]["text"][-1].endswith("%")


def test_words_state_today_and_the_last_year() -> None:
    shown = found()
    assert "LP less HP. With the numbers of today: " in width_words(shown)
    assert "points wide." in width_words(shown)
    assert f"It reaches four in five after {shown.needed} more years." in power_words(shown)
    assert "does not reach four in five" in power_words(found(0.29, 1))


def test_nothing_to_expect_is_said_and_drawn_as_nothing() -> None:
    empty = found(None)
    assert "No interval can be expected" in width_words(empty)
    assert "No power can be stated" in power_words(empty)
    assert widths(empty)["data"][0]["x"] == []
    assert json.loads(json.dumps(powers(empty))) == powers(empty)
