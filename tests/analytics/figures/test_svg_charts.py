from analytics.figures.charts import RUST, chart_words
from analytics.figures.svg_charts import chart_drawing
from tests.analytics.figures.sheets import faults, words_of
from tests.analytics.figures.test_charts import OUTCOMES, facts, read


def test_the_limit_and_the_case_that_reached_it_are_named() -> None:
    sheet = chart_drawing(read(), facts())
    assert faults(sheet) == []
    assert {"limit", "case 5"} <= set(words_of(sheet))
    assert sheet.words == chart_words(read(), facts())
    crossed = [one for one in sheet.shapes if one.attributes.get("stroke") == RUST]
    assert len(crossed) == 2


def test_cases_with_the_event_are_filled_and_the_others_hollow() -> None:
    sheet = chart_drawing(read(), facts())
    fills = [one.attributes["fill"] for one in sheet.shapes if one.tag == "path"]
    assert fills.count("#ffffff") == OUTCOMES.count(False)


def test_a_long_chart_marks_the_events_alone() -> None:
    many = tuple(place % 20 == 0 for place in range(200))
    sheet = chart_drawing(read(many), facts(many))
    marks = [one for one in sheet.shapes if one.tag == "path" and one.attributes["fill"] != "none"]
    assert len(marks) == sum(many)
