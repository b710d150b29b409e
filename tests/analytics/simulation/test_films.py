"""The true distance of a shoulder and what readers make of it."""

import statistics
from dataclasses import replace
from datetime import date

import pytest

from analytics.simulation import films
from analytics.simulation.draws import Draws
from analytics.simulation.films import Shoulder
from analytics.simulation.records import SimReading
from analytics.simulation.truth import READ_SD_MM, SETTLING_MM, THRESHOLD_MM

ON = date(2025, 3, 6)
HELD = Shoulder(
    other_mm=8.6,
    start_mm=9.0,
    rise_mm=8.0,
    loss_day=None,
    union_day=90,
    is_fracture=True,
    calibration="marker",
)
LOST = replace(HELD, loss_day=50)


def readings(of: Shoulder, day: int, films_taken: int = 800) -> list[SimReading]:
    return [
        reading
        for number in range(films_taken)
        for reading in films.film(Draws(6, number), of, ON, day, hardware_in_place=True).readings
    ]


def test_a_shoulder_that_holds_settles_by_less_than_the_threshold() -> None:
    assert HELD.ccd_mm(0) == 9.0
    assert HELD.ccd_mm(5000) == pytest.approx(9.0 + SETTLING_MM)
    assert SETTLING_MM < THRESHOLD_MM
    assert not HELD.is_lost(5000)


def test_a_loss_rises_beyond_the_threshold_at_once_and_grows_for_four_weeks() -> None:
    assert not LOST.is_lost(49)
    assert LOST.ccd_mm(49) < 9.0 + SETTLING_MM
    assert LOST.is_lost(50)
    assert LOST.ccd_mm(50) - LOST.start_mm > THRESHOLD_MM
    assert LOST.ccd_mm(78) - LOST.start_mm == pytest.approx(8.0)
    assert LOST.ccd_mm(400) == LOST.ccd_mm(78)


@pytest.mark.parametrize(
    ("day", "state"), [(53, "none"), (54, "partial"), (89, "partial"), (90, "united")]
)
def test_union_comes_by_way_of_partial_union(day: int, state: str) -> None:
    assert HELD.union(day) == state


def test_what_never_unites_is_never_united_and_a_joint_injury_has_no_union() -> None:
    assert replace(HELD, union_day=None).union(2000) == "none"
    assert replace(HELD, is_fracture=False).union(2000) == "not_applicable"


def test_readers_err_by_the_stated_spread_around_the_truth() -> None:
    lengths = [one.ccd_injured_mm for one in readings(HELD, 30) if one.ccd_injured_mm is not None]
    assert statistics.fmean(lengths) == pytest.approx(HELD.ccd_mm(30), abs=0.1)
    assert statistics.stdev(lengths) == pytest.approx(READ_SD_MM, abs=0.06)


def test_a_second_reading_is_blind_and_by_the_other_reader() -> None:
    pairs = [
        found
        for number in range(800)
        if len(found := films.film(Draws(6, number), HELD, ON, 9, hardware_in_place=True).readings)
        > 1
    ]
    assert len(pairs) / 800 == pytest.approx(films.SECOND_SHARE, abs=0.04)
    for first, second in pairs:
        assert {first.reader, second.reader} == {0, 1}
        assert (first.blind, second.blind) == (False, True)


def test_a_film_without_a_scale_carries_no_millimetres() -> None:
    without = replace(HELD, calibration="none")
    for one in readings(without, 30, 100):
        assert (one.ccd_injured_mm, one.ccd_other_mm) == (None, None)
    ratios = [one.ccd_side_ratio_pct for one in readings(without, 30)]
    assert statistics.median(one for one in ratios if one is not None) == pytest.approx(6, abs=2)


def test_the_other_side_is_read_only_where_the_film_shows_it() -> None:
    for number in range(200):
        film = films.film(Draws(6, number), HELD, ON, 9, hardware_in_place=True)
        for one in film.readings:
            assert (one.ccd_other_mm is not None) == film.shows_both_sides


def test_hardware_that_is_out_is_seen_to_be_out() -> None:
    film = films.film(Draws(1, 1), HELD, ON, 9, hardware_in_place=False)
    assert {one.hardware for one in film.readings} == {"removed"}
    assert {one.hardware for one in readings(HELD, 9, 50)} == {"intact"}
    assert {one.hardware for one in readings(LOST, 90)} == set(films.ON_LOSS)


def test_a_drawn_shoulder_is_within_what_bodies_are() -> None:
    for number in range(300):
        one = films.shoulder(
            Draws(2, number), union_share=0.9, is_fracture=True, reduction_quality="poor"
        )
        assert 5 <= one.other_mm <= 13
        assert one.start_mm >= 3
        assert one.loss_day is None
        assert one.union_day is None or 40 <= one.union_day <= 180


def test_the_other_side_of_a_shoulder_stays_when_it_is_known() -> None:
    one = films.shoulder(
        Draws(2, 1), union_share=1, is_fracture=False, reduction_quality="near", other_mm=7.7
    )
    assert (one.other_mm, one.union_day) == (7.7, None)
