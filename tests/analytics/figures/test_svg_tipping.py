import pytest

from analytics.answers.tipping import answer
from analytics.figures.svg_tipping import tipping_line
from analytics.figures.tipping import tipping_words
from tests.analytics.answers.test_tipping import WORKED
from tests.analytics.figures.results import result
from tests.analytics.figures.sheets import faults, words_of


def test_the_line_is_marked_at_its_ends_and_where_they_fared_alike() -> None:
    found = answer(WORKED, None)
    sheet = tipping_line(found)
    assert faults(sheet) == []
    assert {"8.3%", "10.0%", "21.7%"} <= set(words_of(sheet))
    assert sheet.words == tipping_words(found)


def test_where_everybody_was_judged_there_is_no_line() -> None:
    with pytest.raises(ValueError, match="nothing to draw"):
        tipping_line(answer(result({"LP": (5, 1, 0)}), None))
