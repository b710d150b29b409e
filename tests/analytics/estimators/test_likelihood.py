import math

import numpy as np
import pytest

from analytics.estimators.inputs import Floats
from analytics.estimators.likelihood import Point, maximise, profile_limit, signed_root

SHAPE = np.array([[3.0, 1.0], [1.0, 2.0]])
TOP = np.array([1.0, -2.0])


def bowl(at: Floats) -> Point:
    away = at - TOP
    return Point(float(-away @ SHAPE @ away / 2), -SHAPE @ away, SHAPE)


def slope_without_end(at: Floats) -> Point:
    """Rise for ever in the first coefficient, with a top in the second."""
    fading = math.exp(-at[0])
    value = -fading - (at[1] - 3) ** 2 / 2
    return Point(value, np.array([fading, 3 - at[1]]), np.diag([fading, 1.0]))


def steep(at: Floats) -> Point:
    """Overshoot: minus log cosh, whose steps lead ever farther away from beyond 1.09."""
    return Point(
        float(-np.logaddexp(at[0], -at[0])), -np.tanh(at), np.array([[np.cosh(at[0]) ** -2]])
    )


def test_a_bowl_is_climbed_in_one_step() -> None:
    found = maximise(bowl, np.zeros(2))
    assert found.at == pytest.approx(TOP)
    assert found.converged
    assert found.iterations == 2
    assert found.flat.shape == (2, 0)


def test_what_is_held_does_not_move() -> None:
    found = maximise(bowl, np.zeros(2), np.array([False, True]))
    assert found.at == pytest.approx([0.0, -1.5])
    assert maximise(bowl, np.zeros(2), np.array([False, False])).at.tolist() == [0, 0]


def test_steps_that_lead_down_are_halved() -> None:
    found = maximise(steep, np.array([2.0]))
    assert found.at == pytest.approx([0.0], abs=1e-9)
    assert found.converged


def test_a_direction_without_end_is_found_and_the_other_still_climbed() -> None:
    found = maximise(slope_without_end, np.zeros(2))
    assert found.converged
    assert found.at[1] == pytest.approx(3)
    assert found.at[0] > 15
    assert np.abs(found.flat[:, 0]).tolist() == pytest.approx([1.0, 0.0])


@pytest.mark.parametrize("place", [0, 1])
def test_limits_of_a_bowl_are_those_of_wald(place: int) -> None:
    top = maximise(bowl, np.zeros(2))
    std_error = math.sqrt(np.linalg.inv(SHAPE)[place, place])
    for width in (-0.1, 0.7, 40.0):
        found = profile_limit(bowl, top, place, width, 1.96)
        assert found == pytest.approx(TOP[place] + math.copysign(1.96, width) * std_error)


def test_the_root_of_the_fall_is_nothing_at_the_top() -> None:
    top = maximise(bowl, np.zeros(2))
    assert signed_root(bowl, top, top.at, 0)[0] == pytest.approx(0, abs=1e-7)


def test_there_is_no_limit_where_the_profile_does_not_fall_so_far() -> None:
    top = maximise(slope_without_end, np.zeros(2))
    assert profile_limit(slope_without_end, top, 0, 1.0, 1.96) == math.inf
    back = profile_limit(slope_without_end, top, 0, -1.0, 1.96)
    assert math.exp(-back) == pytest.approx(1.96**2 / 2, rel=1e-6)
