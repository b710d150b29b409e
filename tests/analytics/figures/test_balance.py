import json
import math

from analytics.answers.balance import Comparison, Trait
from analytics.figures.balance import dot_words, dots

FOUND = Comparison(
    "followed",
    "lost",
    (30, 10),
    (
        Trait("Age, years", "40.0", "50.0", -0.7),
        Trait("Men", "20/30 (67%)", "6/10 (60%)", 0.05),
        Trait("Site south", "0/30 (0%)", "10/10 (100%)", -math.inf),
        Trait("Pain at 6 weeks, 0 to 10", "3.0", "0 known", None),
    ),
)


def test_each_difference_is_a_dot_and_those_apart_are_squares() -> None:
    (trace,) = dots(FOUND, "Followed against lost")["data"]
    assert trace["y"] == ["Age, years", "Men"]
    assert trace["x"] == [-0.7, 0.05]
    assert trace["marker"]["symbol"] == ["square", "circle-open"]


def test_the_lines_stand_at_a_tenth_on_both_sides_of_nought() -> None:
    layout = dots(FOUND, "x")["layout"]
    assert sorted(line["x0"] for line in layout["shapes"]) == [-0.1, 0, 0.1]
    assert layout["xaxis"]["range"][1] > 0.7


def test_words_say_what_is_most_apart() -> None:
    said = dot_words(FOUND)
    assert said.startswith("30 followed and 10 lost: 2 of 3 characteristics differ by more than")
    assert "Site south: 0/30 (0%) against 10/10 (100%), -inf; Age, years: 40.0 against" in said


def test_groups_alike_and_groups_of_nobody_are_said() -> None:
    alike = Comparison("followed", "lost", (3, 3), (Trait("Men", "1/3", "1/3", 0.0),))
    assert "none of 1 characteristics differs" in dot_words(alike)
    nobody = Comparison("followed", "lost", (3, 0), ())
    assert "not two groups to compare" in dot_words(nobody)
    figure = dots(nobody, "x")
    assert json.loads(json.dumps(figure)) == figure
