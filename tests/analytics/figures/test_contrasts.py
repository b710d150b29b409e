import json
import math

import pytest

from analytics.answers.comparison import LOGISTIC, Comparison, Effect, Model, answer
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import DEFINITIONS
from analytics.estimators.results import Estimate
from analytics.figures.contrasts import differences, ratio_text, ratio_words, ratios
from tests.analytics.figures.results import cohort

ONE = Effect("LP against HP", Estimate(2.0, 1.1, 4.0), Estimate(1.5, 0.8, 3.0))
MODEL = Model(LOGISTIC, 90, 30, groups=(ONE,))


def found() -> Comparison:
    given = cohort({"LP": (15, 5, 0), "HP": (24, 6, 0), "TG": (9, 1, 0)})
    return answer(given, DEFINITIONS["rise-3mm"], HORIZONS["12m"])


def test_each_group_is_a_line_in_points_with_its_interval() -> None:
    figure = differences(found())
    assert [trace["y"][0] for trace in figure["data"]] == ["<b>TG</b>  1/10", "<b>LP</b>  5/20"]
    line = figure["data"][1]
    gap = found().contrasts[0].difference
    assert line["x"] == pytest.approx([5.0])
    assert line["error_x"]["array"] == pytest.approx([(gap.high - gap.estimate) * 100])
    assert line["text"] == ["+5.0"]
    assert len({trace["marker"]["symbol"] for trace in figure["data"]}) == 2
    assert "Difference to HP (6/30)" in figure["layout"]["title"]["text"].replace("<br>", " ")


def test_adjusted_is_filled_and_as_it_is_is_open_on_a_log_axis() -> None:
    figure = ratios(MODEL, "HP")
    assert figure["layout"]["xaxis"]["type"] == "log"
    marks = {trace["y"][0]: trace["marker"]["symbol"] for trace in figure["data"]}
    assert marks == {
        "<b>LP</b>  adjusted": "circle",
        "<b>LP</b>  as it is": "circle-open",
    }


def test_an_end_without_limit_stays_inside_the_figure_and_is_said() -> None:
    wide = Estimate(math.inf, 1.2, math.inf)
    figure = ratios(Model(LOGISTIC, 9, 3, groups=(Effect("LP against HP", None, wide),)), "HP")
    assert all(math.isfinite(value) for value in figure["data"][0]["x"])
    assert ratio_text(wide) == "without limit (1.20 to without limit)"
    assert ratio_text(Estimate(math.nan, 0.0, math.inf)).startswith("not known (0.00")


def test_the_words_state_each_ratio_or_why_there_is_none() -> None:
    assert ratio_words(MODEL) == (
        "Odds ratio at the horizon: LP against HP 2.00 (1.10 to 4.00) as it is, "
        "1.50 (0.80 to 3.00) adjusted."
    )
    assert ratio_words(Model(LOGISTIC, 9, 1, refused="Not fitted.")) == "Not fitted."


def test_nothing_to_compare_is_still_a_figure() -> None:
    only = answer(cohort({"LP": (9, 1, 0)}), DEFINITIONS["rise-3mm"], HORIZONS["12m"])
    assert differences(only)["data"] == []
    assert json.loads(json.dumps(differences(only))) == differences(only)
