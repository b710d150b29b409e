import json

import pandas as pd
import pytest

from analytics.answers.attendance import WAYS, Line, lines
from analytics.figures.attendance import FATES, bar_words, bars
from tests.analytics.cohort import CUTOFF, data
from tests.analytics.followed import review, reviews

END = pd.Timestamp(CUTOFF)


def some() -> tuple[Line, ...]:
    rows = [review("done_in_window", "6w", procedure_id=number) for number in range(1, 4)]
    rows += [review("lapsed", "6w", procedure_id=4), review("moved", procedure_id=4)]
    rows += [review("done_outside", procedure_id=1)]
    return lines(reviews(rows), data([{}] * 4).cases, "step", END)


def test_every_way_is_drawn_in_one_part_of_the_bar() -> None:
    drawn = [way for fate in FATES for way in fate.ways]
    assert sorted(drawn) == sorted(WAYS)


def test_each_bar_is_all_that_were_planned() -> None:
    figure = bars(some())
    parts = [trace["x"] for trace in figure["data"]]
    assert [sum(part) for part in zip(*parts, strict=True)] == pytest.approx([100, 100])
    assert figure["data"][0]["text"] == ["3", ""]
    assert figure["data"][0]["y"] == ["<b>6w</b>  4", "<b>12m</b>  2"]


def test_parts_differ_by_pattern_as_well_as_shade() -> None:
    shapes = [(fate.colour, fate.pattern) for fate in FATES]
    assert len(set(shapes)) == len(FATES)
    # In grey print the two reds are one, and so are the two greys beside open: the patterns are not.
    solid = [fate for fate in FATES if not fate.pattern]
    assert len(solid) == 2


def test_words_state_each_step() -> None:
    said = bar_words(some())
    assert "6w: 3 of 4 planned done in window (75.0%), 0 outside it, 1 missed, lapsed or" in said
    assert "12m: 0 of 2 planned done in window (0.0%), 1 outside it, 1 missed, lapsed" in said
    assert bar_words(lines(reviews([]), data().cases, "step", END)) == (
        "No review was planned in this cohort."
    )


def test_no_review_is_still_a_figure() -> None:
    figure = bars(lines(reviews([]), data().cases, "step", END))
    assert json.loads(json.dumps(figure)) == figure
