import json
from typing import Any

import pandas as pd

from analytics.answers import function
from analytics.answers.function import FunctionAnswer
from analytics.answers.horizons import HORIZONS
from analytics.answers.measures import MEASURES
from analytics.figures.function import over_time, over_time_words
from tests.analytics.cohort import CUTOFF, data
from tests.analytics.followed import motion, motions, scores


def found(code: str, rows: list[dict[str, Any]]) -> FunctionAnswer:
    cases = data([{"construct_type": "LP"}] * 6 + [{"construct_type": "HP"}] * 2).cases
    values = function.measured(MEASURES[code], scores([]), motions(rows), cases)
    horizon, end = HORIZONS["12m"], pd.Timestamp(CUTOFF)
    return function.answer(MEASURES[code], values, cases, horizon, end, "construct_type")


FLEXION = [motion(100 + 10 * n, procedure_id=n) for n in range(1, 9)]
LEVELS = [
    motion(None, movement="internal_rotation", level_rank=rank, procedure_id=n)
    for n, rank in enumerate((2, 3, 3, 5), 1)
]


def test_medians_have_the_middle_half_as_bars_and_small_groups_are_left_out() -> None:
    figure = over_time(found("flexion", FLEXION), 5)
    (trace,) = figure["data"]
    assert trace["name"] == "LP"
    assert trace["y"] == [135.0]
    assert trace["error_y"]["array"] == trace["error_y"]["arrayminus"] == [12.5]
    assert "fewer<br>than 5" in figure["layout"]["title"]["subtitle"]["text"]
    assert "higher is better" in figure["layout"]["title"]["text"]


def test_groups_stand_beside_one_another_and_differ_by_mark() -> None:
    one, two = over_time(found("flexion", FLEXION), 1)["data"]
    assert one["x"] != two["x"]
    assert one["marker"]["symbol"] != two["marker"]["symbol"]
    assert one["line"]["dash"] != two["line"]["dash"]


def test_levels_are_bars_from_the_lowest_to_the_highest() -> None:
    figure = over_time(found("internal_rotation", LEVELS), 5)
    assert next(trace["name"] for trace in figure["data"]) == "thigh"
    assert [trace["x"] for trace in figure["data"]] == [[0], [0], [25], [50], [0], [25]]
    assert len({trace["marker"]["color"] for trace in figure["data"]}) == 6


def test_words_state_the_middle_and_the_numbers() -> None:
    said = over_time_words(found("flexion", FLEXION))
    assert said.startswith("Flexion (active, in degrees; more is better), median with the middle")
    assert "12 months: 145° (127.5° to 162.5°), 8 of 8." in said
    assert "At 12 months by group: HP 175° (172.5° to 177.5°) (2); LP 135°" in said
    levels = over_time_words(found("internal_rotation", LEVELS))
    assert "12 months: L3 (lumbosacral junction to L3), 4 of 8." in levels


def test_what_was_never_recorded_is_said_and_drawn_as_nothing() -> None:
    nothing = found("flexion", [])
    assert over_time_words(nothing) == "Flexion has not been recorded in this cohort."
    assert json.loads(json.dumps(over_time(nothing, 5)))["data"] == []
