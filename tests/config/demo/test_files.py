"""The invented sheets: the shipped ones, and what an import makes of them."""

from collections import Counter
from datetime import date
from pathlib import Path

import pytest

from analytics.simulation import setting
from analytics.simulation.cohort import MISTYPED
from config.demo import files
from config.demo.load import Wanted
from followup.models import Complication, Reading
from followup.services import imports
from registry.errors import BadInput
from registry.exchange import sheets
from registry.models import Patient, Procedure
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


@pytest.mark.usefixtures("defaults")
def test_the_sheet_without_slips_is_imported_whole_with_all_that_it_holds() -> None:
    site, path = builders.site("tarnbridge"), FIXTURES / "cases_tarnbridge.csv"
    by = builders.person("connie", tarnbridge="coordinator")
    shared = {"site": site, "file_name": path.name, "by": by, "now": NOW, "today": TODAY}
    with path.open("rb") as source:
        result = imports.import_cases(source=source, **shared)
    with path.open("rb") as source:
        sheet = sheets.read(source)
        rows = [sheet.values(row) for row in sheet.rows]
    assert (result.added, result.faults) == (len(rows), ())
    assert Procedure.objects.filter(kind="fixation").count() == len(rows)
    kinds = Counter(Procedure.objects.values_list("kind", flat=True))
    assert kinds["revision_fixation"] == sum(bool(row["revision_date"]) for row in rows)
    assert kinds["implant_removal"] == sum(bool(row["removal_date"]) for row in rows)
    lengths = [
        value for row in rows for name, value in row.items() if name.endswith("_ccd_injured_mm")
    ]
    measured = Reading.objects.filter(ccd_injured_mm__isnull=False)
    assert measured.count() == sum(bool(value) for value in lengths) > 200
    kinds_told = [
        value for row in rows for name, value in row.items() if name.startswith("complication_")
    ]
    assert Complication.objects.count() * 4 == sum(bool(value) for value in kinds_told)
    assert Patient.objects.count() < len(rows)


@pytest.mark.usefixtures("defaults")
def test_of_the_sheet_with_slips_the_good_rows_come_in_and_each_slip_is_named() -> None:
    site, path = builders.site("merrow"), FIXTURES / "cases_merrow.csv"
    by = builders.person("connie", merrow="coordinator")
    with path.open("rb") as source:
        result = imports.import_cases(
            source=source,
            site=site,
            file_name=path.name,
            keep_good=True,
            by=by,
            now=NOW,
            today=TODAY,
        )
    assert len(result.rejected) == len(MISTYPED)
    columns = {fault.column for fault in result.faults}
    assert {named for _, _, _, named in MISTYPED} <= columns
    assert result.added == Procedure.objects.filter(kind="fixation").count()
