"""Which films are drawn, which are near a threshold, and when two readings disagree."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from followup.rules.second_readings import (
    ALL,
    NEAR,
    NONE,
    SHARE,
    Lengths,
    Policy,
    disagree,
    is_drawn,
    is_near,
    place_of,
)

KEYS = range(1, 4001)
UNMEASURED = Lengths()
DAY = date(2026, 11, 25)


def drawn(policy: Policy) -> set[int]:
    return {key for key in KEYS if is_drawn(policy, key, DAY, UNMEASURED)}


def test_none_draws_no_film_and_all_draws_every_one() -> None:
    assert drawn(Policy(draw=NONE)) == set()
    assert drawn(Policy(draw=ALL)) == set(KEYS)


def test_drawing_twice_draws_the_same() -> None:
    policy = Policy(draw=SHARE, share_pct=20, seed="north")
    assert drawn(policy) == drawn(policy)
    # Known for ever: the draw must not change with the code that makes it.
    assert place_of("north", 7) == pytest.approx(0.6642161367692285, abs=1e-12)


def test_a_share_draws_about_so_many() -> None:
    for share in (5, 20, 50):
        found = len(drawn(Policy(draw=SHARE, share_pct=share))) / len(KEYS)
        # Five standard deviations of a share of 4,000.
        assert abs(found - share / 100) < 5 * (share / 100 * (1 - share / 100) / len(KEYS)) ** 0.5
    assert drawn(Policy(draw=SHARE, share_pct=100)) == set(KEYS)


def test_a_larger_share_keeps_what_a_smaller_one_drew() -> None:
    some, more = (drawn(Policy(draw=SHARE, share_pct=share)) for share in (10, 12))
    assert some < more
    # Nothing but the margin is new.
    assert all(0.10 <= place_of("1", key) < 0.12 for key in more - some)


def test_films_of_before_the_first_day_are_left_out() -> None:
    policy = Policy(draw=ALL, taken_from=DAY)
    assert is_drawn(policy, 1, DAY, UNMEASURED)
    assert not is_drawn(policy, 1, DAY - timedelta(days=1), UNMEASURED)


def test_another_seed_draws_others() -> None:
    one, two = (drawn(Policy(draw=SHARE, share_pct=20, seed=seed)) for seed in ("1", "2"))
    # By chance a fifth of a fifth is in both.
    assert len(one & two) < 0.4 * len(one)


@pytest.mark.parametrize(
    ("ccd_mm", "baseline_mm", "near"),
    [
        (13.0, 12.0, True),
        (12.9, 12.0, False),
        (17.0, 12.0, True),
        (17.1, 12.0, False),
        (15.0, None, False),
        (None, 12.0, False),
    ],
)
def test_near_a_rise_means_within_the_detectable_change(
    ccd_mm: float | None, baseline_mm: float | None, near: bool
) -> None:
    assert is_near(Policy(draw=NEAR), Lengths(ccd_mm), baseline_mm) is near
    assert is_drawn(Policy(draw=NEAR), 1, DAY, Lengths(ccd_mm), baseline_mm) is near


@pytest.mark.parametrize(
    ("reading", "near"),
    [
        (Lengths(10.5, 10.0), True),
        (Lengths(10.4, 10.0), False),
        (Lengths(14.5, 10.0), True),
        (Lengths(14.6, 10.0), False),
        (Lengths(stored_ratio_pct=5.0), True),
        (Lengths(stored_ratio_pct=45.1), False),
        (Lengths(12.0), False),
        (Lengths(), False),
    ],
)
def test_near_a_ratio_needs_no_first_film(reading: Lengths, near: bool) -> None:
    assert is_near(Policy(draw=NEAR), reading, None) is near


def test_a_site_names_its_own_thresholds() -> None:
    policy = Policy(draw=NEAR, near_change_mm=5, mdc_mm=1, near_ratio_pct=50, near_margin_pct=5)
    assert not is_near(policy, Lengths(13.0, 10.0), 10.0)
    assert is_near(policy, Lengths(14.0, 10.0), 10.0)
    assert is_near(policy, Lengths(14.6, 10.0), None)


def test_readings_disagree_beyond_a_limit_and_not_at_it() -> None:
    policy = Policy(third_mm=2.0, third_pct=20.0)
    assert not disagree(policy, Lengths(11.2, 20.0), Lengths(9.2, 20.0))
    assert disagree(policy, Lengths(11.3, 20.0), Lengths(9.2, 20.0))
    assert not disagree(policy, Lengths(stored_ratio_pct=30), Lengths(stored_ratio_pct=10))
    assert disagree(policy, Lengths(stored_ratio_pct=30.1), Lengths(stored_ratio_pct=10))
    # 1 mm of a small other side is many points.
    assert disagree(policy, Lengths(6.0, 4.0), Lengths(5.0, 4.0))
    assert not disagree(replace(policy, third_pct=25), Lengths(6.0, 4.0), Lengths(5.0, 4.0))


def test_what_only_one_could_measure_is_no_disagreement() -> None:
    assert not disagree(Policy(), Lengths(12.0, 9.0), Lengths())
    assert not disagree(Policy(), Lengths(12.0), Lengths(stored_ratio_pct=80))


def test_a_ratio_follows_from_both_sides_or_is_the_stored_one() -> None:
    assert Lengths(12.0, 10.0, 3.0).ratio_pct == pytest.approx(20)
    assert Lengths(12.0, None, 3.0).ratio_pct == 3.0
    assert Lengths().ratio_pct is None
