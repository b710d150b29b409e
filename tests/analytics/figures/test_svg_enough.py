from analytics.figures.svg_enough import ahead
from tests.analytics.figures.sheets import words_of
from tests.analytics.figures.test_enough import found


def test_both_plots_stand_side_by_side_with_their_numbers() -> None:
    shown = found()
    words = words_of(ahead(shown))
    assert "Interval to expect, LP less HP" in words
    assert "How often the difference would be told" in words
    assert "four in five" in words
    assert f"{shown.years[0].width * 100:.0f}" in words
    assert f"{shown.years[-1].power * 100:.0f}%" in words


def test_every_word_is_on_the_sheet() -> None:
    sheet = ahead(found())
    texts = [one for one in sheet.shapes if one.tag == "text"]
    assert all(0 <= float(one.attributes["x"]) <= sheet.width for one in texts)
    assert all(0 <= float(one.attributes["y"]) <= sheet.height for one in texts)
