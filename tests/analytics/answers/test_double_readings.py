"""Which films count as read twice, and what each of two readers said."""

from typing import Any

import numpy as np
import pandas as pd
import pytest

from analytics.answers.double_readings import LEFT_OUT, pairs

SITES = pd.Series({1: "north", 2: "south"}, dtype=object)
PLAIN: dict[str, Any] = {
    "procedure_id": 1,
    "taken_on": pd.Timestamp("2026-07-01"),
    "calibrated": True,
    "ccd_injured_mm": np.nan,
    "ccd_other_mm": np.nan,
    "ccd_side_ratio_pct": np.nan,
    "acd_injured_mm": np.nan,
    "translation_pct": np.nan,
    "union": "unknown",
    "hardware": "unknown",
    "blind": True,
    "image_id": None,
    "frame": None,
    "calibration_id": None,
}


def frame(*rows: dict[str, Any]) -> pd.DataFrame:
    """Return readings; of each only film, reader and turn have to be said."""
    made = pd.DataFrame([{"reading_id": at, **PLAIN, **row} for at, row in enumerate(rows, 1)])
    return made.astype(dict.fromkeys(("image_id", "frame", "calibration_id"), "Int64"))


def one(film: int, reader: int, turn: int, **more: Any) -> dict[str, Any]:
    return {"film_id": film, "reader_id": reader, "turn": turn, **more}


def test_a_film_counts_once_with_its_first_and_its_blind_second_reading() -> None:
    found = pairs(
        frame(
            one(5, 8, 1, ccd_injured_mm=10.0, ccd_other_mm=8.0, blind=False, union="none"),
            one(5, 9, 2, ccd_injured_mm=11.0, ccd_other_mm=8.0, union="partial"),
            one(6, 8, 1, ccd_injured_mm=12.0),
        ),
        SITES,
    )
    (row,) = found.table.to_dict("records")
    assert (row["film_id"], row["procedure_id"], row["site"]) == (5, 1, "north")
    assert (row["first_reader"], row["second_reader"]) == (8, 9)
    assert (row["first_ccd_injured_mm"], row["second_ccd_injured_mm"]) == (10.0, 11.0)
    assert (row["first_ratio_pct"], row["second_ratio_pct"]) == (25.0, 37.5)
    assert (row["first_union"], row["second_union"]) == ("none", "partial")
    assert found.left_out == dict.fromkeys(LEFT_OUT, 0)


def test_who_was_not_blind_is_passed_over_for_the_next_who_was() -> None:
    rows = [one(5, 8, 1), one(5, 9, 2, blind=False), one(5, 7, 3, ccd_injured_mm=9.0)]
    assert pairs(frame(*rows), SITES).table["second_reader"].tolist() == [7]
    found = pairs(frame(*rows[:2]), SITES)
    assert found.table.empty
    assert found.left_out["not_blind"] == 1


def test_a_third_reading_is_left_aside() -> None:
    found = pairs(frame(one(5, 8, 1), one(5, 9, 2), one(5, 7, 3)), SITES)
    assert found.table[["first_reader", "second_reader"]].values.tolist() == [[8, 9]]


def test_a_first_reading_that_was_corrected_later_counts_only_if_it_was_blind() -> None:
    # The correction has the higher number: it was made when the second reading was there.
    late = {"reading_id": 9}
    found = pairs(frame(one(5, 8, 1, blind=False, **late), one(5, 9, 2)), SITES)
    assert (len(found.table), found.left_out["corrected"]) == (0, 1)
    assert len(pairs(frame(one(5, 8, 1, **late), one(5, 9, 2)), SITES).table) == 1


@pytest.mark.parametrize(
    ("other", "counts"),
    [
        ({"image_id": 1, "frame": 1, "calibration_id": 3}, True),
        ({"image_id": 1, "frame": 1, "calibration_id": 4}, False),
        ({"image_id": 1, "frame": 2, "calibration_id": 3}, False),
        ({"image_id": 2, "frame": 1, "calibration_id": 3}, False),
        ({"image_id": 1, "frame": 1, "calibration_id": None}, False),
        # Numbers that were typed stand beside any picture.
        ({}, True),
    ],
)
def test_two_pictures_or_two_sizes_of_a_pixel_are_not_compared(
    other: dict[str, Any], counts: bool
) -> None:
    picture = {"image_id": 1, "frame": 1, "calibration_id": 3}
    found = pairs(frame(one(5, 8, 1, **picture), one(5, 9, 2, **other)), SITES)
    assert len(found.table) == int(counts)
    assert found.left_out["another_picture"] == int(not counts)


def test_lengths_count_on_calibrated_films_and_ratios_on_any() -> None:
    bare = {"calibrated": False, "ccd_injured_mm": 10.0}
    found = pairs(
        frame(
            one(5, 8, 1, ccd_side_ratio_pct=20.0, **bare),
            one(5, 9, 2, ccd_side_ratio_pct=24.0, **bare),
        ),
        SITES,
    )
    (row,) = found.table.to_dict("records")
    assert np.isnan(row["first_ccd_injured_mm"])
    assert (row["first_ratio_pct"], row["second_ratio_pct"]) == (20.0, 24.0)


def test_what_nobody_could_judge_is_no_category() -> None:
    found = pairs(frame(one(5, 8, 1, hardware="not_applicable"), one(5, 9, 2)), SITES)
    (row,) = found.table.to_dict("records")
    assert row["first_hardware"] is None
    assert row["second_union"] is None


def test_a_snapshot_of_before_has_no_turns_and_counts_by_the_order_of_reading() -> None:
    old = frame(one(5, 8, 1), one(5, 9, 2)).drop(
        columns=["turn", "acd_injured_mm", "image_id", "frame", "calibration_id"]
    )
    assert pairs(old, SITES).table[["first_reader", "second_reader"]].values.tolist() == [[8, 9]]


def test_without_readings_there_is_no_pair() -> None:
    found = pairs(frame(one(5, 8, 1)).iloc[:0], SITES)
    assert found.table.empty
    assert sum(found.left_out.values()) == 0
