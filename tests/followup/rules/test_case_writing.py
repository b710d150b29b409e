"""Values are written as our columns hold them, and each visit finds its place or is left."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from followup.rules import case_writing
from followup.rules.case_writing import DayFound
from registry.rules.dates import Bounds

OPERATED = date(2025, 2, 6)
FILM = {"view": "ap", "posture": "upright", "weighted": "no", "calibration": "none"}


def on(days: int, **found: Any) -> DayFound:
    return DayFound(OPERATED + timedelta(days=days), **found)


@pytest.mark.parametrize(
    ("value", "kind", "written"),
    [
        (Decimal("38.60"), "", "38.6"),
        (Decimal("100.00"), "", "100"),
        (Bounds(date(1986, 4, 1), date(1986, 4, 30)), "", "1986-04"),
        (date(2025, 2, 6), "", "2025-02-06"),
        (True, "", "yes"),
        (0, "", "0"),
        (None, "not_done", "not done"),
        (None, "", ""),
        ("", "unknown", "unknown"),
    ],
)
def test_values_are_written_as_our_columns_hold_them(value: Any, kind: str, written: str) -> None:
    assert case_writing.text(value, kind) == written


def test_each_day_is_the_visit_that_it_was_or_the_nearest_free() -> None:
    days = [on(44, named="6w"), on(100), on(400), on(700)]
    placed, left = case_writing.place(OPERATED, days)
    assert {name: (one.on - OPERATED).days for name, one in placed.items()} == {
        "6w": 44,
        "3m": 100,
        "12m": 400,
        "24m": 700,
    }
    assert left == []


def test_visits_follow_each_other_and_what_has_no_place_is_left() -> None:
    days = [on(40, named="6w"), on(41), on(42), on(43), on(44), on(45), on(46)]
    placed, left = case_writing.place(OPERATED, days)
    order = [case_writing.PLACES.index(name) for name in placed]
    assert order == sorted(order)
    assert len(placed) + len(left) == len(days)
    assert left


def test_the_first_film_holds_nothing_but_a_film() -> None:
    alone = on(3, film=FILM)
    assert "baseline" in case_writing.place(OPERATED, [alone])[0]
    with_motion = on(3, film=FILM, motion={"flexion_deg": 20})
    assert "baseline" not in case_writing.place(OPERATED, [with_motion])[0]


def test_a_ratio_is_left_out_where_both_lengths_say_it() -> None:
    reading = {"ccd_injured_mm": Decimal("9.1"), "ccd_other_mm": Decimal("8.9")}
    one = on(42, film=FILM, reading=reading | {"ccd_side_ratio_pct": Decimal("2.2")})
    cells = case_writing.day_cells("6w", one, view=True)
    assert (cells["f6w_ccd_injured_mm"], cells["f6w_ccd_ratio_pct"]) == ("9.1", "")
    assert (cells["f6w_view"], cells["f6w_date"]) == ("ap", "2025-03-20")


def test_what_all_films_share_is_written_once_and_what_differs_is_told() -> None:
    read = {"union": "partial"}
    alike = [on(3, film=FILM, reading=read), on(42, film=FILM, reading=read)]
    cells, same = case_writing.film_cells(alike)
    assert (cells["film_view"], cells["film_posture"], same) == ("ap", "upright", True)
    other = on(91, film=FILM | {"posture": "supine", "view": "zanca"}, reading=read)
    cells, same = case_writing.film_cells([*alike, other])
    assert (cells["film_view"], same) == ("", False)
    assert case_writing.film_cells([on(42)]) == ({}, True)
