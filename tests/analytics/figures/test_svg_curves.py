import pytest

from analytics.figures.svg_curves import of_answer, step_curves
from analytics.figures.template import mark_for
from tests.analytics.figures.results import result
from tests.analytics.figures.sheets import faults, words_of

FEW = {"LP": (12, 6, 0), "HP": (15, 3, 0)}
MANY = {
    "LP": (12, 6, 0),
    "HP": (15, 3, 0),
    "CC-B": (12, 3, 0),
    "LP+A1": (9, 3, 0),
    "TG": (10, 3, 0),
}


def test_a_curve_rises_where_the_event_was_found_and_is_named_at_its_end() -> None:
    (line,) = of_answer(result({"LP": (12, 6, 0)}))
    assert line.share[0] == 0
    assert line.share[-1] == pytest.approx(100 / 3)
    assert line.mark == mark_for("LP", ["LP"])
    assert words_of(step_curves([line], "x")).count("LP") == 2


def test_numbers_at_risk_stand_below_for_every_curve() -> None:
    words = words_of(step_curves(of_answer(result(FEW)), "x"))
    assert "still at risk" in words
    assert words.count("18") >= 2
    assert "months since the operation" in words


@pytest.mark.parametrize("groups", [FEW, MANY, {"LP": (12, 1, 0)}])
def test_nothing_is_cut_and_nothing_lies_over_another(
    groups: dict[str, tuple[int, int, int]],
) -> None:
    assert faults(step_curves(of_answer(result(groups)), "x")) == []


def test_intervals_are_shaded_only_where_they_can_be_told_apart() -> None:
    def areas(groups: dict[str, tuple[int, int, int]]) -> int:
        shapes = step_curves(of_answer(result(groups)), "x").shapes
        return sum("fill-opacity" in shape.attributes for shape in shapes)

    assert (areas(FEW), areas(MANY)) == (2, 0)


def test_curves_differ_by_their_dashes_too() -> None:
    shapes = step_curves(of_answer(result(MANY)), "x").shapes
    paths = [one for one in shapes if one.tag == "path" and one.attributes["fill"] == "none"]
    dashes = {one.attributes.get("stroke-dasharray", "") for one in paths}
    assert len(dashes) >= 4
