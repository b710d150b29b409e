import pandas as pd
import pytest

from analytics.answers import funnels
from analytics.answers.funnels import Funnel
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import DEFINITIONS
from analytics.figures.funnels import GREY, funnel_figure


def made(units: dict[str, tuple[int, int]]) -> Funnel:
    state, group = [], []
    for unit, (events, judged) in units.items():
        state += ["event"] * events + ["held"] * (judged - events)
        group += [unit] * judged
    return funnels.funnel(
        pd.DataFrame({"state": pd.Series(state, dtype=object)}),
        pd.Series(group, dtype=object),
        {},
        DEFINITIONS["rise-3mm"],
        HORIZONS["12m"],
        "sites",
    )


def test_each_unit_is_a_point_with_its_name_and_the_convention_stands_on_the_figure() -> None:
    drawn = funnel_figure(made({"a": (3, 40), "b": (4, 60)}))
    points = [trace for trace in drawn["data"] if "text" in trace]
    assert [(one["text"], one["x"], one["y"]) for one in points] == [
        (["a"], [40], [7.5]),
        (["b"], [60], [pytest.approx(6.667, abs=1e-3)]),
    ]
    said = drawn["layout"]["title"]["subtitle"]["text"]
    assert "Exact binomial limits with" in said
    assert "99.8%" in said
    assert {note["text"] for note in drawn["layout"]["annotations"]} == {"7.0%", "95%", "99.8%"}


def test_a_small_volume_is_grey_and_hollow() -> None:
    drawn = funnel_figure(made({"small": (3, 5), "large": (4, 90)}))
    mark = next(one["marker"] for one in drawn["data"] if one.get("text") == ["small"])
    assert (mark["color"], mark["symbol"]) == (GREY, "circle-open")


def test_a_point_beyond_has_another_form_than_one_within() -> None:
    drawn = funnel_figure(made({"a": (30, 60), "b": (20, 300)}))
    marks = {one["text"][0]: one["marker"]["symbol"] for one in drawn["data"] if "text" in one}
    assert marks == {"a": "square", "b": "square"}
    inside = funnel_figure(made({"a": (3, 40), "b": (4, 60)}))
    assert {one["marker"]["symbol"] for one in inside["data"] if "text" in one} == {"circle"}


def test_every_point_lies_inside_the_figure() -> None:
    for units in ({"a": (9, 9), "b": (4, 90)}, {"a": (60, 60), "b": (10, 60)}):
        drawn = funnel_figure(made(units))
        top = drawn["layout"]["yaxis"]["range"][1]
        assert all(one["y"][0] < top for one in drawn["data"] if "text" in one)


def test_a_funnel_that_is_refused_is_drawn_empty() -> None:
    assert funnel_figure(made({}))["data"] == []
