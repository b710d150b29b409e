import itertools
import json

import pytest

from analytics.answers.horizons import HORIZONS
from analytics.figures.curves import LAST_DAY, MOST_BANDS, curves, steps
from tests.analytics.figures.results import result

TWO = {"LP": (8, 2, 0), "HP": (12, 6, 0)}
MANY = {name: (10, 2 + at, 0) for at, name in enumerate(("LP", "HP", "CC-B", "TG"))}


def texts(figure: dict[str, object]) -> list[str]:
    layout = figure["layout"]
    assert isinstance(layout, dict)
    return [note["text"] for note in layout["annotations"]]


def test_a_curve_steps_up_in_per_cent_by_month_and_goes_on_to_its_end() -> None:
    (curve,) = steps(result({"LP": (8, 2, 0)}))
    assert curve.share == pytest.approx([0.0, 20.0, 20.0, 20.0])
    assert curve.months[1] == pytest.approx(90 * 12 / 365.25)
    assert curve.months[-1] == pytest.approx(700 * 12 / 365.25)


def test_no_curve_is_drawn_beyond_the_last_window(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.analytics.figures.results.HELD", (LAST_DAY + 60, 9.1))
    (curve,) = steps(result({"LP": (8, 2, 0)}))
    assert curve.months[-1] == pytest.approx(LAST_DAY * 12 / 365.25)


def test_a_few_curves_have_bands_and_many_have_bars_at_the_horizon() -> None:
    few, many = curves(result(TWO)), curves(result(MANY))
    assert len(TWO) <= MOST_BANDS < len(MANY)
    assert sum(trace.get("fill") == "tonexty" for trace in few["data"]) == 2
    assert not any("error_y" in trace for trace in few["data"])
    assert sum("error_y" in trace for trace in many["data"]) == 4
    assert not any(trace.get("fill") for trace in many["data"])
    assert "Shaded: 95% interval." in few["layout"]["title"]["subtitle"]["text"]
    assert "Bars: 95% interval" in many["layout"]["title"]["subtitle"]["text"]


def test_bars_stand_side_by_side() -> None:
    places = [trace["x"][0] for trace in curves(result(MANY))["data"] if "error_y" in trace]
    assert len(set(places)) == 4
    assert max(places) == pytest.approx(HORIZONS["12m"].last_day * 12 / 365.25)


def test_bars_are_the_numbers_of_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    # Found after the horizon's day and inside its window, and one group without an event.
    monkeypatch.setattr("tests.analytics.figures.results.LOST", (400, 14.0))
    shown = result({**MANY, "LP": (10, 0, 0)})
    bars = [trace for trace in curves(shown)["data"] if "error_y" in trace]
    for bar, row in zip(bars, shown.rows, strict=True):
        assert row.incidence.estimate is not None
        share, high = row.incidence.estimate.estimate, row.incidence.estimate.high
        assert bar["y"][0] == pytest.approx(share * 100)
        assert bar["y"][0] + bar["error_y"]["array"][0] == pytest.approx(high * 100)
        assert bar["error_y"]["array"][0] > 0
    assert max(bar["y"][0] for bar in bars) > 0


def test_each_curve_is_named_at_its_end_and_its_numbers_at_risk_stand_below() -> None:
    shown = texts(curves(result(TWO)))
    # Once at the curve's end, once in the table.
    assert shown.count("LP") == shown.count("HP") == 2
    assert shown.count("<b>still at risk</b>") == 1
    table = shown[shown.index("<b>still at risk</b>") + 1 :]
    assert table == ["HP", "18", "12", "12", "12", "LP", "10", "8", "8", "8"]


def test_names_that_would_cover_one_another_are_moved_apart() -> None:
    figure = curves(result({"LP": (10, 2, 0), "HP": (10, 2, 0), "TG": (10, 2, 0)}))
    heights = [note["y"] for note in figure["layout"]["annotations"] if "bordercolor" in note]
    assert heights == sorted(heights)
    assert min(two - one for one, two in itertools.pairwise(heights)) > 1


def test_lines_differ_by_dash_as_well_as_colour() -> None:
    lines = [
        trace["line"] for trace in curves(result(TWO))["data"] if "dash" in trace.get("line", {})
    ]
    assert len(lines) == 2
    assert len({line["dash"] for line in lines}) == len({line["color"] for line in lines}) == 2


def test_a_group_too_small_for_a_curve_is_left_out() -> None:
    assert "HP" not in texts(curves(result({"LP": (8, 2, 0), "HP": (1, 1, 0)})))


def test_an_answer_without_groups_is_still_a_figure() -> None:
    figure = curves(result({}))
    assert figure["data"] == []
    assert json.loads(json.dumps(figure)) == figure
