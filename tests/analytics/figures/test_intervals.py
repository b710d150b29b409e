import itertools
import json

import pytest

from analytics.answers.horizons import HORIZONS
from analytics.answers.timing import Timing, answer
from analytics.endpoints.catalogue import DEFINITIONS
from analytics.figures.curves import DAYS_A_MONTH
from analytics.figures.intervals import intervals
from tests.analytics.figures.results import cohort


def found(groups: dict[str, tuple[int, int, int]]) -> Timing:
    return answer(cohort(groups), DEFINITIONS["rise-3mm"], HORIZONS["12m"])


def test_each_group_has_its_band_and_its_dashes_below_the_one_of_all() -> None:
    figure = intervals(found({"LP": (15, 5, 0), "HP": (9, 3, 0)}))
    axes = [trace["yaxis"] for trace in figure["data"]]
    assert axes == ["y"] * 3 + ["y2"] * 3 + ["y3"] * 3
    assert [note["text"] for note in figure["layout"]["annotations"]] == [
        "<b>all</b>  8 of 32",
        "<b>HP</b>  3 of 12",
        "<b>LP</b>  5 of 20",
    ]
    least, most, dashes = figure["data"][6:]
    # Lost between day 2 and the film of day 90.
    assert least["x"][1] == pytest.approx(90 / DAYS_A_MONTH)
    assert most["x"][1] == pytest.approx(2 / DAYS_A_MONTH)
    assert least["y"][1] == most["y"][1] == pytest.approx(25.0)
    assert most["fill"] == "tonexty"
    assert dashes["line"]["dash"] == "dash"


def test_all_panels_share_one_scale_and_do_not_overlap() -> None:
    layout = intervals(found({"LP": (15, 5, 0), "HP": (9, 3, 0)}))["layout"]
    panels = [layout[name] for name in ("yaxis", "yaxis2", "yaxis3")]
    assert len({tuple(panel["range"]) for panel in panels}) == 1
    for above, below in itertools.pairwise(panels):
        assert above["domain"][0] > below["domain"][1]


def test_the_figure_fits_on_a_printed_page_however_many_groups() -> None:
    many = intervals(found({f"G{number}": (9, 3, 0) for number in range(12)}))
    few = intervals(found({"LP": (9, 3, 0)}))
    assert few["layout"]["height"] < many["layout"]["height"] < 1000


def test_a_group_too_small_for_a_curve_is_left_out() -> None:
    figure = intervals(found({"LP": (15, 5, 0), "HP": (2, 1, 0)}))
    assert {trace["yaxis"] for trace in figure["data"]} == {"y", "y2"}


def test_nothing_to_draw_is_still_a_figure() -> None:
    empty = intervals(found({}))
    assert empty["data"] == []
    assert json.loads(json.dumps(empty)) == empty
