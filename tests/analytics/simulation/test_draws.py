"""Random values from a stream of its own."""

import statistics

import pytest

from analytics.simulation.draws import AT_ONCE, CASE, PERSON, Draws

MANY = 20_000


def test_the_same_stream_gives_the_same_values_however_long() -> None:
    one, other = Draws(7, 3), Draws(7, 3)
    values = [one.random() for _ in range(3 * AT_ONCE)]
    assert values == [other.random() for _ in range(3 * AT_ONCE)]
    assert len(set(values)) == len(values)


@pytest.mark.parametrize("other", [(8, 3, CASE), (7, 4, CASE), (7, 3, PERSON)])
def test_another_seed_number_or_kind_gives_another_stream(other: tuple[int, int, int]) -> None:
    assert Draws(7, 3, CASE).random() != Draws(*other).random()


def test_values_lie_from_0_up_to_1_and_are_spread_evenly() -> None:
    rng = Draws(1, 1)
    values = [rng.random() for _ in range(MANY)]
    assert min(values) >= 0
    assert max(values) < 1
    assert statistics.fmean(values) == pytest.approx(0.5, abs=0.01)


def test_a_chance_comes_true_as_often_as_it_says() -> None:
    rng = Draws(2, 1)
    assert sum(rng.chance(0.3) for _ in range(MANY)) / MANY == pytest.approx(0.3, abs=0.015)


def test_whole_numbers_leave_out_the_upper_end() -> None:
    rng = Draws(3, 1)
    assert {rng.integers(2, 5) for _ in range(500)} == {2, 3, 4}


def test_bounded_values_are_moved_to_the_nearer_bound() -> None:
    rng = Draws(4, 1)
    values = [rng.bounded(5, 10, 0, 6) for _ in range(500)]
    assert (min(values), max(values)) == (0, 6)


def test_normal_and_exponential_values_have_their_mean_and_spread() -> None:
    rng = Draws(5, 1)
    normal = [rng.normal(10, 2) for _ in range(MANY)]
    waits = [rng.exponential(3) for _ in range(MANY)]
    assert statistics.fmean(normal) == pytest.approx(10, abs=0.06)
    assert statistics.stdev(normal) == pytest.approx(2, abs=0.05)
    assert statistics.fmean(waits) == pytest.approx(3, abs=0.09)
    assert statistics.stdev(waits) == pytest.approx(3, abs=0.15)


def test_keys_are_picked_by_the_shares_beside_them() -> None:
    rng = Draws(6, 1)
    picked = [rng.pick({"a": 0.7, "b": 0.3, "c": 0.0}) for _ in range(MANY)]
    assert picked.count("a") / MANY == pytest.approx(0.7, abs=0.015)
    assert "c" not in picked


def test_rounding_of_the_shares_leaves_the_last_key() -> None:
    rng = Draws(7, 1)
    assert {rng.pick({"a": 0.0, "b": 0.0}) for _ in range(5)} == {"b"}


def test_each_option_is_as_likely() -> None:
    rng = Draws(8, 1)
    chosen = [rng.choice("xyz") for _ in range(MANY)]
    assert all(chosen.count(one) / MANY == pytest.approx(1 / 3, abs=0.015) for one in "xyz")
