import json

import pytest

from analytics.figures.forests import forest
from tests.analytics.figures.results import result


def test_each_group_is_a_line_with_its_count_and_the_total_comes_last() -> None:
    figure = forest(result({"LP": (8, 2, 0), "HP": (5, 1, 2)}))
    labels = list(dict.fromkeys(label for trace in figure["data"] for label in trace["y"]))
    # The axis runs upwards, so that the last is drawn first.
    assert labels == ["<b>all</b>  3/16", "<b>LP</b>  2/10", "<b>HP</b>  1/6"]


def test_a_point_has_its_interval_and_the_missing_their_bar() -> None:
    answer = result({"HP": (5, 1, 2)})
    bar, point = forest(answer)["data"][-2:]
    rate = answer.rows[0].rate
    assert rate is not None
    assert point["x"] == pytest.approx([100 / 6])
    assert point["error_x"]["array"] == pytest.approx([(rate.high - rate.estimate) * 100])
    assert point["error_x"]["arrayminus"] == pytest.approx([(rate.estimate - rate.low) * 100])
    assert point["text"] == ["16.7%"]
    assert bar["x"] == pytest.approx([12.5, 37.5])


def test_the_axis_starts_at_nought_and_holds_every_end() -> None:
    figure = forest(result({"HP": (1, 0, 9), "LP": (30, 0, 0)}))
    low, high = figure["layout"]["xaxis"]["range"]
    assert low == 0
    for trace in figure["data"]:
        assert max(trace["x"]) <= high


def test_a_number_at_the_left_edge_is_not_cut() -> None:
    figure = forest(result({"LP": (20, 0, 0), "HP": (10, 10, 0)}))
    places = {trace["y"][0]: trace["textposition"] for trace in figure["data"] if "text" in trace}
    assert places["<b>LP</b>  0/20"] == "top right"
    assert places["<b>HP</b>  10/20"] == "top center"


def test_a_number_at_the_right_edge_is_not_cut() -> None:
    figure = forest(result({"LP": (0, 20, 0), "HP": (10, 10, 0)}))
    places = {trace["y"][0]: trace["textposition"] for trace in figure["data"] if "text" in trace}
    assert places["<b>LP</b>  20/20"] == "top left"
    assert all(trace["cliponaxis"] is False for trace in figure["data"] if "text" in trace)


def test_groups_differ_by_symbol_as_well_as_colour() -> None:
    figure = forest(result({"LP": (8, 2, 0), "HP": (5, 1, 0), "CC-B": (4, 1, 0)}))
    markers = [trace["marker"] for trace in figure["data"] if "marker" in trace]
    assert len({marker["symbol"] for marker in markers}) == 4
    assert len({marker["color"] for marker in markers}) == 4


def test_a_group_without_anybody_evaluable_is_left_out() -> None:
    figure = forest(result({"LP": (8, 2, 0), "HP": (0, 0, 3)}))
    assert not any("HP" in label for trace in figure["data"] for label in trace["y"])


def test_an_answer_without_groups_is_still_a_figure() -> None:
    figure = forest(result({}))
    assert figure["data"] == []
    assert json.loads(json.dumps(figure)) == figure
