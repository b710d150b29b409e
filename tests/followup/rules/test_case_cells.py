from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from followup.rules.case_cells import Cell, Reading, read
from followup.rules.case_columns.catalogue import BY_NAME
from registry.rules.dates import Bounds

HOW = Reading(
    day_first=False,
    listed={
        "construct_type": ["LP", "LP+A1", "HP"],
        "revision_construct_type": [],
        "surgeon": [f"surgeon{number:02d}" for number in range(30)],
    },
)
DAY_FIRST = Reading(day_first=True, listed=HOW.listed)


def cell(name: str, written: str, how: Reading = HOW) -> Cell:
    return read(BY_NAME[name], written, how)


@pytest.mark.parametrize(
    ("name", "written", "value"),
    [
        ("local_id", " 000417 ", "000417"),
        ("family_name", "Na", "Na"),
        ("given_name", "\xa0Zo\u00eb\xa0", "Zo\u00eb"),
        ("side", "LEFT", "left"),
        ("mechanism", "fall standing", "fall_standing"),
        ("diabetes", "TRUE", "yes"),
        ("diabetes", "?", "unknown"),
        ("knot", "n/a", "not_applicable"),
        ("neer", "iib", "IIB"),
        ("complication_1_grade", "iva", "IVa"),
        ("construct_type", "lp+a1", "LP+A1"),
        ("procedure_date", "2024-03-05", date(2024, 3, 5)),
        ("birth_date", "1961", Bounds(date(1961, 1, 1), date(1961, 12, 31))),
        ("injury_date", "2024-02", Bounds(date(2024, 2, 1), date(2024, 2, 29))),
        ("plate_holes", "6", 6),
        ("plate_holes", "6.0", 6),
        ("bmi", "23.44", Decimal("23.4")),
        ("bmi", "23,5", Decimal("23.5")),
        ("f6w_ccd_injured_mm", "9.25", Decimal("9.3")),
        ("f6w_ccd_ratio_pct", "-12.5", Decimal("-12.5")),
        ("f6w_external_rotation_deg", "-10", -10),
        ("f6w_quickdash", "38.64", 38.64),
        ("f6w_pain", "0", 0.0),
    ],
)
def test_a_cell_is_read_by_the_kind_of_its_column(name: str, written: str, value: Any) -> None:
    assert cell(name, written) == Cell(value)


@pytest.mark.parametrize(
    ("name", "written", "kind"),
    [
        ("bmi", "unknown", "unknown"),
        ("bmi", "Not done", "not_done"),
        ("plate_holes", "n/a", "not_applicable"),
        ("f6w_date", "not done", "not_done"),
        ("f6w_union", "not done", "not_done"),
        ("neer", "unknown", "unknown"),
        ("surgeon", "unknown", "unknown"),
        ("suture_kind", "?", "unknown"),
    ],
)
def test_three_kinds_of_missing_stay_apart(name: str, written: str, kind: str) -> None:
    assert cell(name, written) == Cell(missing=kind)


def test_an_empty_cell_is_neither_a_value_nor_a_kind_of_missing() -> None:
    assert cell("bmi", "  ") == Cell()


@pytest.mark.parametrize(
    ("name", "written", "reason"),
    [
        ("local_id", "", "must be given"),
        ("local_id", "unknown", "'unknown' cannot be used: it must be known"),
        ("side", "unknown", "'unknown' cannot be used: it must be known"),
        ("injury_date", "?", "'?' cannot be used: it must be known"),
        ("side", "L", "'L' is not one of: left, right"),
        ("construct_type", "XX", "'XX' is not known here; use one of: HP, LP, LP+A1"),
        ("revision_construct_type", "LP", "'LP' is not known here; none is set up yet"),
        ("procedure_date", "2024-03", "'2024-03' lacks the day; this date must be known exactly"),
        ("plate_holes", "6.5", "'6.5' is not a whole number; write digits only, without a unit"),
        ("plate_holes", "six", "'six' is not a whole number; write digits only, without a unit"),
        (
            "bmi",
            "23 kg",
            "'23 kg' is not a number; write digits and a decimal point, without a unit",
        ),
        (
            "bmi",
            "1,234",
            "'1,234' is not a number; write digits and a decimal point, without a unit",
        ),
        ("bmi", "nan", "'nan' is not a number; write digits and a decimal point, without a unit"),
        ("bmi", "230", "230 kg/m2 is not possible; expected 10 to 90 kg/m2"),
        ("f6w_ccd_injured_mm", "0", "0 mm is not possible; expected 0.1 to 60 mm"),
        ("f6w_abduction_deg", "240", "240 degrees is not possible; expected 0 to 190 degrees"),
        ("f6w_pain", "11", "11 is outside 0 to 10 of Pain, 0 to 10"),
        ("given_name", "A\nB", "holds a line break or a sign that cannot be printed"),
        ("given_name", "x" * 81, "has 81 letters; at most 80 are kept"),
    ],
)
def test_what_cannot_be_used_says_why(name: str, written: str, reason: str) -> None:
    assert cell(name, written) == Cell(fault=reason)


def test_an_unlikely_value_is_kept_with_its_doubt() -> None:
    found = cell("f6w_ccd_injured_mm", "41")
    assert found.value == Decimal("41.0")
    assert "unusual" in found.doubt
    assert found.fault == ""


@pytest.mark.parametrize("written", ["05.03.2024", "05/03/2024", "2024-03-05"])
def test_days_come_first_where_that_is_stated(written: str) -> None:
    assert cell("procedure_date", written, DAY_FIRST) == Cell(date(2024, 3, 5))


@pytest.mark.parametrize(
    ("written", "how"), [("03/04/25", HOW), ("03/04/25", DAY_FIRST), ("03/04/2025", HOW)]
)
def test_a_date_that_can_be_read_in_two_ways_is_refused(written: str, how: Reading) -> None:
    assert "can be read in two ways" in cell("procedure_date", written, how).fault


@pytest.mark.parametrize("written", ["2023-02-29", "2024-13-01", "2024-00-10"])
def test_a_date_that_is_not_in_the_calendar_is_refused(written: str) -> None:
    assert "not a possible date" in cell("procedure_date", written).fault


def test_of_many_known_names_the_nearest_are_shown() -> None:
    fault = cell("surgeon", "surgeon7").fault
    assert "surgeon07" in fault
    assert fault.endswith(", ...")
