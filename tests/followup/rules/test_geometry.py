"""Circles, horizontals, heights and nearest points, against published and reference results."""

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares

from followup.rules import geometry
from followup.rules.geometry import Horizon, Point

# The example of Gander, Golub and Strebel, BIT 34 (1994) 558-578; points and circle from memory.
GANDER: list[Point] = [(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7)]

coordinates = st.floats(-2000, 2000)
angles = st.floats(-0.7, 0.7)


def turned(point: Point, angle: float, about: Point = (0.0, 0.0)) -> Point:
    x, y = point[0] - about[0], point[1] - about[1]
    return (
        about[0] + x * math.cos(angle) - y * math.sin(angle),
        about[1] + x * math.sin(angle) + y * math.cos(angle),
    )


def rim(
    radius: float, count: int, noise: float, seed: int, arc: float = 2 * math.pi
) -> list[Point]:
    rng = np.random.default_rng(seed)
    return [
        (
            850 + radius * math.cos(arc * n / count) + float(rng.normal(0, noise)),
            420 + radius * math.sin(arc * n / count) + float(rng.normal(0, noise)),
        )
        for n in range(count)
    ]


def by_scipy(points: list[Point]) -> tuple[float, float, float, float]:
    at = np.array(points)
    middle = at.mean(axis=0)

    def gaps(guess: Any) -> Any:
        return np.hypot(*(at - guess[:2]).T) - guess[2]

    found = least_squares(
        gaps, [*middle, at.std()], method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15
    )
    return *found.x, float(np.sqrt(np.mean(found.fun**2)))


def test_the_circle_of_the_published_example_is_found() -> None:
    circle = geometry.fit_circle(GANDER)
    assert (circle.x, circle.y, circle.radius) == pytest.approx((4.7398, 2.9835, 4.7142), abs=5e-5)


def test_the_search_starts_from_the_algebraic_circle() -> None:
    at = np.array(GANDER) - np.mean(GANDER, axis=0)
    # x^2 + y^2 = 2ax + 2by + c is linear in a, b and c.
    system = np.column_stack([2 * at, np.ones(len(at))])
    (a, b, c), *_ = np.linalg.lstsq(system, (at**2).sum(axis=1), rcond=None)
    found = geometry._algebraic([(float(x), float(y)) for x, y in at])
    assert found == pytest.approx((a, b, math.sqrt(c + a * a + b * b)))


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("arc", [2 * math.pi, math.pi, 2.0])
def test_a_circle_agrees_with_the_reference_library(seed: int, arc: float) -> None:
    points = rim(60, 5 + seed, 0.6, seed, arc)
    circle = geometry.fit_circle(points)
    expected = by_scipy(points)
    found = (circle.x, circle.y, circle.radius, circle.residual)
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-5)


def test_a_perfect_rim_has_no_residual() -> None:
    circle = geometry.fit_circle(rim(63.5, 8, 0, 1))
    assert (circle.x, circle.y, circle.radius) == pytest.approx((850, 420, 63.5))
    assert circle.residual == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([(0, 0), (1, 1), (2, 0)], "needs 4 points"),
        ([(0, 0), (1, 1), (2, 2), (3, 3), (9, 9)], "on one line"),
        ([(5, 5)] * 6, "on one spot"),
    ],
)
def test_points_that_make_no_circle_are_refused(points: list[Point], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        geometry.fit_circle(points)


@given(st.integers(0, 10_000), st.floats(5, 300), angles, st.floats(0.1, 20))
def test_a_circle_turns_and_grows_with_its_points(
    seed: int, radius: float, angle: float, scale: float
) -> None:
    points = rim(radius, 9, radius / 50, seed)
    plain = geometry.fit_circle(points)
    moved = geometry.fit_circle(
        [turned((x * scale, y * scale), angle, (850, 420)) for x, y in points]
    )
    assert moved.radius == pytest.approx(plain.radius * scale, rel=1e-6)
    assert moved.residual == pytest.approx(plain.residual * scale, rel=1e-4)
    centre = turned((plain.x * scale, plain.y * scale), angle, (850, 420))
    assert (moved.x, moved.y) == pytest.approx(centre, rel=1e-6, abs=1e-4)


def test_a_height_without_tilt_is_counted_upwards() -> None:
    assert geometry.height((100, 40), (90, 100)) == 60
    assert geometry.height((90, 100), (100, 40)) == -60


def test_a_height_on_a_tilted_film_by_hand() -> None:
    # The horizontal falls by 3 on 4: its unit vector is (0.8, 0.6), and up is (0.6, -0.8).
    level = geometry.horizon((0, 0), (40, 30))
    assert level == Horizon(0.8, 0.6)
    assert level.tilt_deg == pytest.approx(math.degrees(math.atan(0.75)))
    # 100 above in the body is (60, -80) in the picture.
    assert geometry.height((60, -80), (0, 0), level) == pytest.approx(100)
    # What lies along the horizontal has no height.
    assert geometry.height((40, 30), (0, 0), level) == pytest.approx(0)


def test_the_two_points_of_the_horizontal_may_be_named_in_either_order() -> None:
    assert geometry.horizon((900, 130), (100, 110)) == geometry.horizon((100, 110), (900, 130))


@pytest.mark.parametrize(
    ("one", "other", "says"),
    [((5, 5), (5, 5), "coincide"), ((0, 0), (10, 90), "tilted by 84 degrees")],
)
def test_an_impossible_horizontal_is_refused(one: Point, other: Point, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        geometry.horizon(one, other)


@given(*[st.tuples(coordinates, coordinates)] * 2, angles, st.floats(0.05, 20))
def test_a_height_does_not_change_when_the_whole_film_is_turned(
    upper: Point, lower: Point, angle: float, scale: float
) -> None:
    level = geometry.horizon(turned((-100, 0), angle), turned((100, 0), angle))
    plain = geometry.height(upper, lower)
    after = geometry.height(turned(upper, angle), turned(lower, angle), level)
    assert after == pytest.approx(plain, abs=1e-6)
    grown = geometry.height(
        (upper[0] * scale, upper[1] * scale), (lower[0] * scale, lower[1] * scale)
    )
    assert grown == pytest.approx(plain * scale, abs=1e-6)


def test_the_nearest_point_of_a_line_by_hand() -> None:
    cortex: list[Point] = [(0, 0), (10, 0), (20, 10)]
    assert geometry.nearest(cortex, (4, 7)) == (4, 0)
    # Square to the second part: from (18, 4) to the line x - y = 10 it is 2 each way.
    assert geometry.nearest(cortex, (18, 4)) == pytest.approx((16, 6))
    assert geometry.nearest(cortex, (-3, 4)) == (0, 0)
    assert geometry.nearest([(3, 3)], (9, 9)) == (3, 3)
    with pytest.raises(ValueError, match="at least one corner"):
        geometry.nearest([], (1, 1))


@given(st.lists(st.tuples(coordinates, coordinates), min_size=2, max_size=6), coordinates)
def test_no_point_of_the_line_is_nearer_than_the_nearest(line: list[Point], x: float) -> None:
    point = (x, 55.0)
    best = geometry.distance(geometry.nearest(line, point), point)
    for a, b in pairwise(line):
        for n in range(21):
            on = (a[0] + (b[0] - a[0]) * n / 20, a[1] + (b[1] - a[1]) * n / 20)
            assert best <= geometry.distance(on, point) + 1e-7


def test_pixels_that_are_not_square_are_brought_to_one_unit() -> None:
    # Pixels 0.2 mm wide and 0.1 mm high: 30 columns and 80 rows are 6 mm and 8 mm, together 10 mm.
    aspect = 0.1 / 0.2
    across = geometry.distance(
        geometry.stretched((0, 0), aspect), geometry.stretched((30, 80), aspect)
    )
    assert across * 0.2 == pytest.approx(10)
    with pytest.raises(ValueError, match="positive"):
        geometry.stretched((1, 1), 0)
