"""Published counts, sent through import and rates: the file's cases come out as the paper's table.

Counts are the papers'; Wilson limits are own arithmetic from them. Dates, lengths and names are
invented: a paper prints none.
"""

import io
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.management import call_command

from tests import builders
from tests.followup.case_files import case, file_of

FOLLOWED = {
    "film_view": "zanca",
    "film_calibration": "marker",
    "baseline_film_date": "2025-02-08",
    "baseline_ccd_injured_mm": "9.0",
    "f12m_date": "2026-02-06",
    "f12m_ccd_injured_mm": "9.4",
    "f12m_union": "united",
}
LOST = {"f12m_ccd_injured_mm": "14.0"}
NOT_UNITED = {"f12m_union": "none"}

# (construct type, events, operated, rate, low and high in per cent)
Counted = tuple[str, int, int, float, float, float]

# BMC Musculoskelet Disord 2019, s12891-019-2892-6: type IIB, a locking plate alone or with one
# coracoid anchor; 3 of 18 is inferred from the printed per cent.
ANY_COMPLICATION: list[Counted] = [
    ("LP", 5, 16, 31.25, 14.2, 55.6),
    ("LP+A1", 3, 18, 16.67, 5.8, 39.2),
]
# J Orthop Surg Res 2012;7:2: hook plates for fracture.
IMPINGEMENT: Counted = ("HP", 9, 28, 32.14, 17.9, 50.7)
OSTEOLYSIS: Counted = ("HP", 7, 28, 25.0, 12.7, 43.4)
UNION: Counted = ("HP", 27, 28, 96.43, 82.3, 99.4)
# BMC Musculoskelet Disord 2021, s12891-021-04987-y: hook plates for AC joints of type V.
LOSS: Counted = ("HP", 4, 30, 13.33, 5.3, 29.7)


@pytest.fixture(autouse=True)
def at_the_end_of_follow_up(defaults: None) -> Iterator[None]:
    builders.site("north")
    with time_machine.travel(datetime(2026, 11, 25, 12, 0, tzinfo=UTC), tick=False):
        yield


def event(number: int, kind: str, day: str = "2025-05-06") -> dict[str, str]:
    at = f"complication_{number}"
    return {f"{at}_kind": kind, f"{at}_date": day, f"{at}_grade": "II"}


def taken(folder: Path, rows: list[dict[str, str]]) -> None:
    path = folder / "series.csv"
    path.write_bytes(file_of(*rows).getvalue())
    out = io.StringIO()
    call_command("import_cases", str(path), "--site", "north", stdout=out)
    assert f"{len(rows)} added" in out.getvalue()


def rates(endpoint: str, definition: str = "") -> dict[str, dict[str, Any]]:
    out = io.StringIO()
    asked = ["--endpoint", endpoint, "--definition", definition, "--format", "json"]
    call_command("rates", *asked, stdout=out)
    return {row["group"]: row for row in json.loads(out.getvalue())["rows"]}


def assert_published(row: dict[str, Any], counted: Counted) -> None:
    _, events, operated, rate, low, high = counted
    assert (row["operated"], row["eligible"], row["evaluable"]) == (operated,) * 3
    assert row["events"] == events
    assert 100 * row["rate"] == pytest.approx(rate, abs=0.005)
    assert 100 * row["rate_low"] == pytest.approx(low, abs=0.05)
    assert 100 * row["rate_high"] == pytest.approx(high, abs=0.05)


def test_complications_of_a_plate_alone_and_with_an_anchor(tmp_path: Path) -> None:
    rows = [
        case(
            100 * arm + number,
            construct_type=construct,
            neer="IIB",
            **FOLLOWED,
            **(event(1, "loss_of_fixation") if number < events else {}),
        )
        for arm, (construct, events, operated, *_) in enumerate(ANY_COMPLICATION)
        for number in range(operated)
    ]
    taken(tmp_path, rows)
    found = rates("any_complication")
    for counted in ANY_COMPLICATION:
        assert_published(found[counted[0]], counted)
    assert (found["all"]["events"], found["all"]["operated"]) == (8, 34)


def test_impingement_osteolysis_and_union_under_hook_plates_that_were_removed(
    tmp_path: Path,
) -> None:
    rows = [
        case(
            number,
            construct_type="HP",
            removal_date="2025-06-10",
            **{**FOLLOWED, **(NOT_UNITED if number >= UNION[1] else {})},
            **(event(1, "impingement") if number < IMPINGEMENT[1] else {}),
            **(event(2, "subacromial_osteolysis") if number < OSTEOLYSIS[1] else {}),
        )
        for number in range(28)
    ]
    taken(tmp_path, rows)
    assert_published(rates("impingement")["HP"], IMPINGEMENT)
    assert_published(rates("subacromial_osteolysis")["HP"], OSTEOLYSIS)
    assert_published(rates("union")["HP"], UNION)
    assert rates("any_complication")["HP"]["events"] == IMPINGEMENT[1]


def test_loss_of_reduction_under_hook_plates(tmp_path: Path) -> None:
    rows = [
        case(
            number,
            injury_kind="ac_joint",
            rockwood="V",
            construct_type="HP",
            removal_date="2025-06-10",
            **{**FOLLOWED, **(LOST if number < LOSS[1] else {})},
        )
        for number in range(LOSS[2])
    ]
    taken(tmp_path, rows)
    assert_published(rates("loss_of_reduction", "rise-3mm")["HP"], LOSS)
