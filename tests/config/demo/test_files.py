"""The invented sheets: the shipped ones, and what an import makes of them."""

import io
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from analytics.simulation import setting
from analytics.simulation.cohort import MISTYPED
from config.demo import files
from config.demo.load import Wanted
from followup.models import Complication, Reading
from followup.services import imports
from followup.services.import_plans import How
from registry.errors import BadInput
from registry.exchange import sheets
from registry.models import Procedure
from tests import builders
from tests.builders import NOW, TODAY

FIXTURES = Path(__file__).parents[3] / "fixtures"
# The day up to which the shipped sheets were made; the README names it with their command.
UNTIL = date(2026, 11, 1)


def test_the_shipped_sheets_are_what_the_command_makes(tmp_path: Path) -> None:
    made = dict(files.write(tmp_path, Wanted(), UNTIL))
    assert sum(made.values()) == setting.DEMO_PROCEDURES + len(MISTYPED)
    assert len(made) == setting.DEMO_SITES
    for path in made:
        assert path.read_text() == (FIXTURES / path.name).read_text(), path.name


def test_a_size_that_makes_no_sense_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="at least one procedure"):
        list(files.write(tmp_path, Wanted(procedures=0), UNTIL))


def part_of(name: str, rows: int) -> io.BytesIO:
    """Return the head of a shipped sheet and its first rows."""
    lines = (FIXTURES / name).read_bytes().splitlines(keepends=True)
    return io.BytesIO(b"".join(lines[: rows + 1]))


@pytest.mark.usefixtures("defaults")
def test_every_row_without_a_slip_can_be_used_and_each_slip_is_named() -> None:
    given: dict[str, Any] = {"how": How(TODAY), "keep_good": True}
    for name, slips in (("merrow", len(MISTYPED)), ("tarnbridge", 0)):
        with (FIXTURES / f"cases_{name}.csv").open("rb") as source:
            result = imports.check_cases(source=source, site=builders.site(name), **given)
        wrong = [one for one in result.rejected if not one.asks]
        assert len(wrong) == slips
        # Somebody who was enrolled twice, under another number, is asked about.
        assert result.usable == result.rows_read - len(result.rejected) > 100
        if slips:
            named = {fault.column for one in wrong for fault in one.faults}
            assert {column for _, _, _, column in MISTYPED} <= named


@pytest.mark.usefixtures("defaults")
def test_rows_are_imported_with_all_that_they_hold() -> None:
    number = 30
    result = imports.import_cases(
        source=part_of("cases_tarnbridge.csv", number),
        site=builders.site("tarnbridge"),
        file_name="cases_tarnbridge.csv",
        by=builders.person("connie", tarnbridge="coordinator"),
        now=NOW,
        how=How(TODAY),
    )
    sheet = sheets.read(part_of("cases_tarnbridge.csv", number))
    rows = [sheet.values(row) for row in sheet.rows]
    assert (result.added, result.faults) == (number, ())
    kinds = Counter(Procedure.objects.values_list("kind", flat=True))
    assert kinds["fixation"] == number
    assert kinds["revision_fixation"] == sum(bool(row["revision_date"]) for row in rows)
    assert kinds["implant_removal"] == sum(bool(row["removal_date"]) for row in rows) > 0
    lengths = sum(
        bool(value)
        for row in rows
        for name, value in row.items()
        if name.endswith("_ccd_injured_mm")
    )
    assert Reading.objects.filter(ccd_injured_mm__isnull=False).count() == lengths > 50
    told = sum(bool(row[f"complication_{n}_kind"]) for row in rows for n in (1, 2, 3))
    assert Complication.objects.count() == told > 0
