"""Importing by command: what was done is said, and faults in one clear line each."""

import io
import json
import random
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.management import CommandError, call_command

from registry.models import AuditEntry, ImportBatch, Patient
from tests import builders
from tests.followup.case_files import HEADER, case, file_of
from tests.followup.sent_files import list_of, theirs


@pytest.fixture(autouse=True)
def north(defaults: None) -> None:
    builders.site("north")
    builders.site("south")


def given(folder: Path, *rows: dict[str, str]) -> Path:
    path = folder / "cases.csv"
    path.write_bytes(file_of(*rows).getvalue())
    return path


def run(path: Path, *options: str) -> tuple[str, str]:
    out, err = io.StringIO(), io.StringIO()
    with time_machine.travel(datetime(2026, 11, 25, 12, 0, tzinfo=UTC), tick=False):
        try:
            call_command("import_cases", str(path), *options, stdout=out, stderr=err)
        except CommandError as fault:
            return out.getvalue(), f"{err.getvalue()}{fault}"
    return out.getvalue(), err.getvalue()


def refused(path: Path, *options: str) -> str:
    with pytest.raises(CommandError) as fault:
        call_command(
            "import_cases", str(path), *options, stdout=io.StringIO(), stderr=io.StringIO()
        )
    return str(fault.value)


def test_a_file_is_imported_and_counted(tmp_path: Path) -> None:
    path = given(tmp_path, case(1), case(2))
    assert run(path, "--site", "north") == (
        "2 rows read: 2 added, 0 known already, 0 rejected.\n",
        "",
    )
    assert run(path, "--site", "north")[0] == (
        "2 rows read: 0 added, 2 known already, 0 rejected.\n"
    )
    assert Patient.objects.count() == 2


def test_a_dry_run_says_what_would_be_done_and_writes_nothing(tmp_path: Path) -> None:
    path = given(tmp_path, case(1), case(2, side="l"))
    before = AuditEntry.objects.count()
    said, _ = run(path, "--site", "north", "--dry-run", "--keep-good")
    assert said == (
        "2 rows read: 1 would be added, 0 known already, 1 rejected. Nothing was written.\n"
    )
    assert AuditEntry.objects.count() == before
    assert [one.name for one in tmp_path.iterdir()] == ["cases.csv"]


def test_faults_are_listed_and_nothing_is_imported(tmp_path: Path) -> None:
    path = given(tmp_path, case(1), case(2, construct_type="XYZ"))
    said, fault = run(path, "--site", "north")
    assert said == ""
    first, last = fault.splitlines()
    assert first.startswith("line 3, construct_type 'XYZ': 'XYZ' is not known here; use one of: ")
    assert last == (
        "Nothing was imported: 1 of 2 rows cannot be used. "
        "Correct them, or take the 1 good rows with --keep-good."
    )
    assert not Patient.objects.exists()


def test_many_faults_are_cut_short(tmp_path: Path) -> None:
    path = given(tmp_path, *(case(n, side="l") for n in range(30)))
    lines = run(path, "--site", "north")[1].splitlines()
    assert lines[20] == "... and 10 more faults."
    assert lines[21].endswith("Correct them and try again.")


def test_good_rows_are_kept_and_the_others_stand_beside_the_file(tmp_path: Path) -> None:
    path = given(tmp_path, case(1), case(2, side="l"))
    said, _ = run(path, "--site", "north", "--keep-good")
    assert said.splitlines() == [
        f"Rejected rows, with reasons: {tmp_path / 'cases-rejected.csv'}",
        "2 rows read: 1 added, 0 known already, 1 rejected.",
    ]
    head, row = (tmp_path / "cases-rejected.csv").read_text().splitlines()
    assert head == ",".join((*HEADER, "reason"))
    assert row.endswith("\"side: 'l' is not one of: left, right\"")


def test_an_earlier_file_of_rejected_rows_is_left_alone(tmp_path: Path) -> None:
    path = given(tmp_path, case(1, side="l"))
    (tmp_path / "cases-rejected.csv").write_text("being corrected")
    run(path, "--site", "north", "--keep-good")
    assert (tmp_path / "cases-rejected.csv").read_text() == "being corrected"
    assert (tmp_path / "cases-rejected-2.csv").exists()


def test_keeping_good_rows_of_a_file_without_any_is_a_fault(tmp_path: Path) -> None:
    path = given(tmp_path, case(1, side="l"))
    assert refused(path, "--site", "north", "--keep-good") == (
        "Nothing was imported: 1 of 1 rows cannot be used. Correct them and try again."
    )


def test_what_is_known_already_is_said_beside_what_cannot_be_used(tmp_path: Path) -> None:
    path = given(tmp_path, case(1), case(2, side="l"))
    run(path, "--site", "north", "--keep-good")
    assert refused(path, "--site", "north", "--keep-good") == (
        "Nothing was imported: 1 of 2 rows cannot be used, 1 are known already. "
        "Correct them and try again."
    )


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    path = tmp_path / "none.csv"
    assert refused(path, "--site", "north") == f"{path} cannot be read: No such file or directory."
    assert refused(tmp_path, "--site", "north") == f"{tmp_path} cannot be read: Is a directory."


def test_an_unknown_site_is_answered_with_the_known_ones(tmp_path: Path) -> None:
    path = given(tmp_path, case())
    assert refused(path, "--site", "west") == "There is no site 'west'. Known: north, south."


def test_a_wrong_header_is_named(tmp_path: Path) -> None:
    path = tmp_path / "cases.csv"
    row = {**case(), "constructtype": "LP"}
    names = tuple(name for name in row if name != "construct_type")
    del row["construct_type"]
    path.write_bytes(file_of(row, header=names).getvalue())
    assert run(path, "--site", "north")[1].splitlines() == [
        "line 1, constructtype: there is no such column; did you mean 'construct_type'?",
        "line 1, construct_type: this column is required and is not in the file",
        "Nothing was imported: the first row does not name the columns that are needed.",
    ]


@pytest.mark.parametrize("letters", [bytes(range(256)), b"abcdefghij \n", b"nonsense,\n"])
def test_ten_megabytes_of_nonsense_get_one_line(tmp_path: Path, letters: bytes) -> None:
    path = tmp_path / "cases.csv"
    chosen = random.Random(8)  # noqa: S311 - the same nonsense each time
    path.write_bytes(bytes(chosen.choices(letters, k=10 * 1024 * 1024)))
    said = refused(path, "--site", "north")
    assert said.startswith(f"{path}: ")
    assert len(said.splitlines()) == 1
    assert len(said) < 500
    assert not ImportBatch.objects.exists()


def test_whoever_imports_can_be_named(tmp_path: Path) -> None:
    connie = builders.person("connie", north="coordinator")
    path = given(tmp_path, case())
    run(path, "--site", "north", "--by", "connie")
    assert ImportBatch.objects.get().started_by == connie
    assert refused(path, "--site", "north", "--by", "nobody") == (
        "--by: there is nobody with the user name 'nobody'."
    )


def test_without_a_name_the_service_itself_imports(tmp_path: Path) -> None:
    run(given(tmp_path, case(procedure_date="06.02.2025")), "--site", "north", "--day-first")
    assert ImportBatch.objects.get().started_by.username == "holdfast"


def test_a_long_file_is_landed_in_parts_and_its_rejected_rows_stand_beside_it(
    tmp_path: Path, settings: Any
) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"
    path = given(tmp_path, case(1), case(2), case(3, injury_date="2025-02-30"))
    said, fault = run(path, "--site", "north", "--in-parts")
    assert (said.splitlines()[1], fault) == (
        "3 rows read: 2 added, 0 known already, 1 rejected, 0 left waiting for a decision.",
        "",
    )
    assert "is not a possible date" in (tmp_path / "cases-rejected.csv").read_text()
    assert "no import of cases.csv" in refused(path, "--site", "north", "--resume")


def test_a_mapping_is_printed_completed_and_used(tmp_path: Path) -> None:
    path = tmp_path / "cases.csv"
    path.write_bytes(list_of(theirs(1), theirs(2)))
    mapping = json.loads(run(path, "--site", "north", "--propose")[0])
    assert mapping["columns"]["Seite"] == {"field": "side"}
    for header, use in mapping["columns"].items():
        if "atum" in header:
            use["dates"] = "day_first"
    mapping["words"] = {
        "side": {"li": "left"},
        "injury_kind": {"LCF": "lateral_clavicle"},
        "construct_type": {"Platte": "LP"},
    }
    said = tmp_path / "mapping.json"
    said.write_text(json.dumps(mapping))
    options = ("--site", "north", "--mapping", str(said))
    assert run(path, *options)[0] == "2 rows read: 2 added, 0 known already, 0 rejected.\n"
    said.write_text("{")
    assert "is no JSON" in refused(path, *options)
