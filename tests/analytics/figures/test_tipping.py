import json

import pytest

from analytics.answers import tipping as answers
from analytics.figures.tipping import tipping, tipping_words
from tests.analytics.answers.test_tipping import WORKED, result


def test_the_line_rises_from_none_to_all_of_those_not_judged() -> None:
    line, marks = tipping(answers.answer(WORKED, 0.15))["data"]
    assert line["x"] == list(range(17))
    assert (line["y"][0], line["y"][-1]) == pytest.approx((8.333, 21.667), abs=5e-4)
    assert marks["text"] == ["8.3%", "10.0%", "21.7%"]


def test_the_target_is_a_dashed_line_of_its_own() -> None:
    assert tipping(answers.answer(WORKED, 0.15))["layout"]["shapes"][0]["y0"] == 15
    assert "shapes" not in tipping(answers.answer(WORKED, None))["layout"]


@pytest.mark.parametrize(
    ("target", "words"),
    [
        (0.15, "It exceeds 15.0% once 9 of the 16 had the event (56.2%)."),
        (0.05, "It exceeds 5.0% even if none of them had the event."),
        (0.3, "It stays at or below 30.0% even if all 16 had the event."),
        (None, "all had it: 21.7%)."),
    ],
)
def test_words_say_from_where_on_the_target_is_exceeded(target: float | None, words: str) -> None:
    said = tipping_words(answers.answer(WORKED, target))
    assert "16 of 120 eligible were not judged. The rate over all lies between 8.3% and" in said
    assert said.endswith(words)


def test_nobody_left_to_change_the_rate_is_said_and_drawn_as_nothing() -> None:
    everybody = answers.answer(result(1, 3, 0), None)
    assert "nobody is left who could change" in tipping_words(everybody)
    assert json.loads(json.dumps(tipping(everybody)))["data"] == []
