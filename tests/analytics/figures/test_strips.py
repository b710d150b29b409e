import json

import pytest

from analytics.answers.horizons import HORIZONS
from analytics.answers.sensitivity import Strip, answer
from analytics.endpoints.catalogue import LOSS, definitions_of
from analytics.figures.strips import strip
from tests.analytics.cohort import data, film


def found() -> Strip:
    films = [
        film(at, mm, 9.0, procedure_id=case)
        for case, last in ((1, 9.1), (2, 13.0), (3, 20.0))
        for at, mm in ((2, 9.0), (360, last))
    ]
    return answer(data([{}, {}, {}, {}], films), definitions_of(LOSS), HORIZONS["12m"])


def test_each_definition_is_a_line_in_the_order_in_which_they_ship() -> None:
    labels = dict.fromkeys(label for trace in strip(found())["data"] for label in trace["y"])
    # The axis runs upwards, so that the last is drawn first; nobody is judged by translation.
    assert list(labels) == [
        "<b>doubled</b>  1/3",
        "<b>ratio-50</b>  1/3",
        "<b>difference-5mm</b>  1/3",
        "<b>ratio-25</b>  2/3",
        "<b>rise-3mm-confirmed</b>  0/1",
        "<b>rise-3mm</b>  2/3",
    ]


def test_the_definition_that_stands_is_filled_and_the_others_are_open() -> None:
    points = [trace for trace in strip(found(), "ratio-25")["data"] if "marker" in trace]
    filled = [point["y"][0] for point in points if point["marker"]["symbol"] == "circle"]
    assert filled == ["<b>ratio-25</b>  2/3"]
    assert all(
        point["marker"]["symbol"] != "circle"
        for point in strip(found())["data"]
        if "marker" in point
    )


def test_a_point_has_its_interval_and_the_missing_their_bar() -> None:
    bar, point = strip(found())["data"][-2:]
    rate = found().lines[0].total.rate
    assert rate is not None
    assert point["x"] == pytest.approx([200 / 3])
    assert point["error_x"]["array"] == pytest.approx([(rate.high - rate.estimate) * 100])
    assert bar["x"] == pytest.approx([50.0, 75.0])


def test_nothing_to_draw_is_still_a_figure() -> None:
    empty = strip(answer(data([]), definitions_of(LOSS), HORIZONS["12m"]))
    assert empty["data"] == []
    assert json.loads(json.dumps(empty)) == empty
