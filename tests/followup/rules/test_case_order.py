from datetime import date
from typing import Any

import pytest

from followup.rules.case_order import faults
from registry.rules import dates

TODAY = date(2026, 11, 25)
ROW = {
    "birth_date": "1980-05-17",
    "injury_date": "2025-02-03",
    "procedure_date": "2025-02-06",
    "baseline_film_date": "2025-02-08",
    "f6w_date": "2025-03-20",
    "f3m_date": "2025-05-06",
    "complication_1_date": "2025-04-01",
    "removal_date": "2025-09-01",
    "died_on": "2026-01-02",
}


def found(**changes: str) -> dict[str, str]:
    values: dict[str, Any] = {}
    for name, written in {**ROW, **changes}.items():
        if written:
            bounds = dates.parse(written)
            partial = name in ("birth_date", "injury_date")
            values[name] = bounds if partial else bounds.earliest
    return dict(faults(values, TODAY))


def test_dates_in_their_order_have_no_fault() -> None:
    assert found() == {}


@pytest.mark.parametrize(
    ("column", "written", "says"),
    [
        ("injury_date", "1980-05-16", "1980-05-16 is before birth_date (1980-05-17)"),
        ("procedure_date", "2025-02-02", "2025-02-02 is before injury_date (2025-02-03)"),
        ("baseline_film_date", "2025-02-05", "is before procedure_date (2025-02-06)"),
        ("complication_1_date", "2025-02-05", "is before procedure_date"),
        ("removal_date", "2025-02-05", "is before procedure_date"),
        ("died_on", "2025-02-05", "is before procedure_date"),
        ("f3m_date", "2025-03-19", "2025-03-19 is before f6w_date (2025-03-20)"),
        ("f3m_date", "2025-03-20", "is the same day as f6w_date"),
        ("f24m_date", "2026-01-03", "2026-01-03 is after died_on (2026-01-02)"),
        ("removal_date", "2026-01-03", "is after died_on"),
        ("died_on", "2026-11-26", "2026-11-26 is in the future (today is 2026-11-25)"),
    ],
)
def test_a_date_that_cannot_be_there_is_named(column: str, written: str, says: str) -> None:
    assert says in found(**{column: written})[column]


def test_a_year_that_leaves_the_order_open_is_no_fault() -> None:
    assert found(birth_date="2025", injury_date="2025-02") == {}


def test_a_year_that_is_wholly_too_late_is_a_fault() -> None:
    assert set(found(birth_date="2026")) == {"injury_date", "procedure_date"}


def test_an_operation_before_birth_is_found_without_the_injury() -> None:
    assert "before birth_date" in found(injury_date="", birth_date="2025-02-07")["procedure_date"]


def test_today_is_not_the_future() -> None:
    assert found(f24m_date="2026-11-25", died_on="") == {}


def test_without_an_operation_nothing_is_before_it() -> None:
    assert found(procedure_date="", baseline_film_date="2020-01-01") == {}
