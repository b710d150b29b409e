from typing import Any

import pytest

from analytics.figures.svg_forests import PUBLISHED, ForestRow, forest, of_answer
from tests.analytics.figures.results import result
from tests.analytics.figures.sheets import faults, words_of

GROUPS = {"LP": (8, 2, 3), "HP": (5, 1, 2), "CC-B": (4, 1, 0), "LP+A1": (30, 0, 1)}


def test_each_group_has_its_name_counts_and_numbers_and_the_total_comes_last() -> None:
    rows = of_answer(result({"LP": (8, 2, 0), "HP": (5, 1, 2)}))
    assert [(row.label, row.counts) for row in rows] == [
        ("HP", "1/6"),
        ("LP", "2/10"),
        ("all", "3/16"),
    ]
    words = words_of(forest(rows, "x"))
    assert words[:3] == ["HP", "1/6", "16.7% (3.0% to 56.4%)"]


def test_a_group_that_nobody_can_judge_has_no_line() -> None:
    assert [row.label for row in of_answer(result({"LP": (8, 2, 0), "HP": (0, 0, 3)}))] == [
        "LP",
        "all",
    ]


def test_nothing_is_cut_and_nothing_lies_over_another() -> None:
    assert faults(forest(of_answer(result(GROUPS)), "x")) == []


def test_published_rows_are_open_grey_and_dashed_under_a_heading() -> None:
    rows = [
        ForestRow("Hook plate"),
        ForestRow("ours", "3/24", 0.125, 0.043, 0.31, bounds=(0.07, 0.5)),
        ForestRow("Klein and others 2010", "3/22", 0.136, 0.047, 0.333, mark=PUBLISHED),
        ForestRow(
            "pooled",
            "20/180",
            0.11,
            0.05,
            0.2,
            further=(0.01, 0.6),
            mark=PUBLISHED,
            note="3 series",
        ),
    ]
    drawing = forest(rows, "x", "per cent")
    assert faults(drawing) == []
    dashed = [one for one in drawing.shapes if one.attributes.get("stroke-dasharray") == "6 3"]
    assert len(dashed) == 2
    assert {one.attributes["stroke"] for one in dashed} == {PUBLISHED.colour}
    assert "11.0% (5.0% to 20.0%) 3 series" in words_of(drawing)


def ends(drawing: Any) -> list[float]:
    return [
        float(shape.attributes[name])
        for shape in drawing.shapes
        if shape.tag == "line"
        for name in ("x1", "x2")
    ]


@pytest.mark.parametrize("groups", [GROUPS, {"HP": (0, 5, 9)}, {}])
def test_every_line_stays_on_the_sheet(groups: dict[str, tuple[int, int, int]]) -> None:
    drawing = forest(of_answer(result(groups)), "x")
    assert all(0 <= place <= drawing.width for place in ends(drawing))
