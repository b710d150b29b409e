"""A file of cases becomes rows, whole or by its good rows, once."""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from django.conf import settings
from django.dispatch import Signal

from followup.models import Complication, Film, HardwareDecision, Reading, Review, Score
from followup.services import imports
from followup.services.import_plans import How
from followup.services.imports import ImportResult
from registry import notices
from registry.errors import BadInput
from registry.models import (
    AuditEntry,
    ImportBatch,
    ImportRow,
    Injury,
    Patient,
    Person,
    Procedure,
)
from registry.services import voiding
from tests import builders, trailed
from tests.builders import NOW, TODAY
from tests.followup.case_files import HEADER, case, file_of

pytestmark = pytest.mark.usefixtures("defaults")
CLINICAL = (Patient, Injury, Procedure, Film, Reading, Score, Complication, Review, AuditEntry)


def check(source: io.BytesIO, **how: Any) -> ImportResult:
    keep_good = how.pop("keep_good", False)
    return imports.check_cases(
        source=source, site=builders.site(), how=How(TODAY, **how), keep_good=keep_good
    )


def take(source: io.BytesIO, by: Person | None = None, **how: Any) -> ImportResult:
    return imports.import_cases(
        source=source,
        file_name="cases.csv",
        site=builders.site(how.pop("site", "north")),
        by=by or builders.person("connie", north="coordinator"),
        now=NOW,
        keep_good=how.pop("keep_good", False),
        how=How(TODAY, **how),
    )


def counts() -> list[int]:
    return [model.objects.count() for model in CLINICAL]


def said(result: ImportResult) -> list[str]:
    return [str(fault) for fault in result.faults]


def test_the_template_itself_can_be_imported() -> None:
    template = Path(settings.BASE_DIR) / "fixtures" / "import_template.csv"
    result = take(io.BytesIO(template.read_bytes()))
    assert (result.rows_read, result.added, result.faults) == (2, 2, ())
    assert Patient.objects.count() == 2
    assert Procedure.objects.filter(kind="fixation").count() == 2
    removal = Procedure.objects.get(kind="implant_removal")
    assert removal.planned_removal
    assert str(removal.revises.construct.construct_type.code) == "HP"


def test_a_case_is_written_down_in_the_trail_under_who_imported_it() -> None:
    connie = builders.person("connie", north="coordinator")
    before = trailed.last_entry()
    take(file_of(case()), by=connie)
    written = AuditEntry.objects.filter(id__gt=before)
    assert {entry.table for entry in written} >= {
        "registry_patient",
        "registry_identity",
        "registry_procedure",
        "followup_review",
        "registry_importbatch",
    }
    assert {entry.person_id for entry in written} == {connie.pk}
    assert {entry.reason for entry in written} == {"imported from cases.csv"}
    assert trailed.holds()


def test_past_reviews_are_attended_or_lapsed_and_future_ones_planned() -> None:
    take(
        file_of(
            case(
                procedure_date="2026-06-05",
                injury_date="2026-06-01",
                f6w_date="2026-07-16",
                f6w_pain="3",
            )
        )
    )
    states = dict(Review.objects.values_list("step__code", "state"))
    assert states == {
        "baseline": "lapsed",
        "2w": "lapsed",
        "6w": "attended",
        "3m": "lapsed",
        "6m": "planned",
        "12m": "planned",
        "24m": "planned",
    }


def test_the_same_file_twice_adds_nothing() -> None:
    rows = (case(1, f6w_date="2025-03-20", f6w_pain="3"), case(2))
    assert take(file_of(*rows)).added == 2
    before = counts()[:-1]
    again = take(file_of(*rows))
    assert (again.added, again.faults) == (0, ())
    assert [one.why for one in again.known] == ["imported before"] * 2
    assert counts()[:-1] == before


def test_an_operation_that_was_typed_before_is_known() -> None:
    take(file_of(case(smoking="never")))
    again = take(file_of(case(smoking="current")))
    assert again.added == 0
    assert "recorded already, by hand or from a row that said something" in again.known[0].why
    assert Injury.objects.get().smoking == "never"


def test_a_row_whose_operation_date_was_corrected_since_is_not_added_again() -> None:
    take(file_of(case()))
    Procedure.objects.update(performed_on="2025-02-07")
    assert take(file_of(case())).known[0].why == "imported before"


def test_a_row_that_was_voided_since_does_not_come_back() -> None:
    take(file_of(case()))
    row = Procedure.objects.get()
    voiding.void_row(
        row=row,
        reason="of another patient",
        expected_version=row.version,
        by=row.recorded_by,
        now=NOW,
    )
    again = take(file_of(case()))
    assert [one.why for one in again.known] == ["imported before, and voided since"]
    assert not Procedure.objects.exists()


def test_the_same_number_at_another_site_is_another_patient() -> None:
    builders.person("connie", south="coordinator")
    take(file_of(case()))
    assert take(file_of(case()), site="south").added == 1
    assert Patient.objects.count() == 2


def test_two_rows_of_one_number_are_one_patient() -> None:
    result = take(
        file_of(case(), case(side="right", injury_date="2025-08-01", procedure_date="2025-08-04"))
    )
    assert result.added == 2
    assert Patient.objects.count() == 1
    assert sorted(Injury.objects.values_list("side", flat=True)) == ["left", "right"]


def test_a_later_file_adds_to_the_patient_that_is_there() -> None:
    take(file_of(case()))
    take(file_of(case(side="right")))
    assert Patient.objects.count() == 1
    assert Procedure.objects.count() == 2


def test_one_fault_keeps_the_whole_file_out() -> None:
    before = counts()[:-1]
    result = take(file_of(case(1), case(2, construct_type="LP+A9")))
    assert (result.usable, result.added, result.refused) == (1, 0, True)
    assert said(result) == [
        "line 3, construct_type 'LP+A9': 'LP+A9' is not known here; use one of: LP+A2, LP+A1, ..."
    ]
    assert counts()[:-1] == before


def test_the_good_rows_can_be_kept_and_the_others_are_written_out_unchanged() -> None:
    bad = case(2, side="l", given_name="=cmd|' /C calc'!A0")
    result = take(file_of(case(1), bad, case(3)), keep_good=True)
    assert (result.added, result.refused) == (2, False)
    out = io.StringIO()
    assert imports.write_rejected(out, result) == 1
    head, line = out.getvalue().splitlines()
    assert head.endswith("moved_on,reason")
    assert "'l' is not one of: left, right" in line
    assert "'=cmd|" in line


def test_a_rejected_row_that_was_corrected_can_be_read_again() -> None:
    result = take(file_of(case(1), case(2, side="l")), keep_good=True)
    out = io.StringIO()
    imports.write_rejected(out, result)
    corrected = io.BytesIO(out.getvalue().replace(",l,", ",left,").encode())
    assert take(corrected).added == 1
    assert Patient.objects.count() == 2


@pytest.mark.parametrize(
    ("cells", "fault"),
    [
        (
            {"procedure_date": "2025-02-01"},
            "procedure_date '2025-02-01': 2025-02-01 is before injury_date (2025-02-03)",
        ),
        (
            {"birth_date": "2025-06-01"},
            "injury_date '2025-02-03': 2025-02-03 is before birth_date (2025-06-01)",
        ),
        (
            {"f6w_date": "2027-01-01"},
            "f6w_date '2027-01-01': 2027-01-01 is in the future (today is 2026-11-25)",
        ),
        (
            {"injury_date": "2025-02-30"},
            "injury_date '2025-02-30': '2025-02-30' is not a possible date",
        ),
    ],
)
def test_impossible_dates_are_refused_by_name(cells: dict[str, str], fault: str) -> None:
    result = take(file_of(case(**cells)))
    assert any(line.startswith(f"line 2, {fault}") for line in said(result))
    assert result.refused
    assert not Patient.objects.exists()


def test_a_header_that_lacks_a_column_refuses_the_file() -> None:
    header = tuple(name for name in HEADER if name != "side")
    row = case()
    del row["side"]
    result = take(file_of(row, header=header))
    assert said(result) == ["line 1, side: this column is required and is not in the file"]
    assert result.refused
    assert ImportBatch.objects.get().state == "refused"


def test_checking_writes_nothing() -> None:
    builders.site()
    before = (*counts(), ImportBatch.objects.count(), Person.objects.count())
    result = check(file_of(case(1), case(2, side="l"), case(1)))
    assert (result.rows_read, result.usable, result.added) == (3, 1, 0)
    assert [one.why for one in result.known] == ["the same as line 2"]
    assert result.refused
    assert (*counts(), ImportBatch.objects.count(), Person.objects.count()) == before


def test_checking_for_the_good_rows_refuses_only_when_there_is_none() -> None:
    assert not check(file_of(case(1), case(2, side="l")), keep_good=True).refused
    assert check(file_of(case(2, side="l")), keep_good=True).refused


def test_a_workbook_is_read_as_well() -> None:
    book = openpyxl.Workbook()
    book.active.append(list(HEADER))
    book.active.append([case().get(name) for name in HEADER])
    out = io.BytesIO()
    book.save(out)
    assert take(out).added == 1
    assert Patient.objects.get().identifiers.get().value == "000417"


def test_dates_written_day_first_are_taken_when_that_is_said() -> None:
    row = case(procedure_date="06.02.2025")
    assert "can be read in two ways" in said(take(file_of(row)))[0]
    assert take(file_of(row), day_first=True).added == 1
    assert str(Procedure.objects.get().performed_on) == "2025-02-06"


def test_progress_is_told_as_rows_are_read_and_saved_together(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(imports, "SAVED_TOGETHER", 1)
    told: list[tuple[str, int, int]] = []
    take(file_of(case(1), case(2)), progress=lambda *step: told.append(step))
    assert told == [("Reading", 1, 2), ("Reading", 2, 2), ("Saving", 1, 2), ("Saving", 2, 2)]


def test_the_account_of_a_file_adds_up_and_says_what_became_of_each_row() -> None:
    take(file_of(case(1)))
    take(file_of(case(1), case(2), case(3, side="l", birth_date="soon")), keep_good=True)
    batch = ImportBatch.objects.get(state="partial")
    assert (batch.rows_read, batch.rows_landed) == (3, 1)
    assert (batch.rows_known, batch.rows_refused) == (1, 1)
    lines = {row.line: row for row in ImportRow.objects.filter(batch=batch)}
    assert lines[2].reason == "imported before"
    assert lines[3].procedure.injury.patient.identifiers.get().value == "000002"
    assert lines[4].reason == "birth_date: cannot be used; side: 'l' is not one of: left, right"


def test_death_is_recorded_after_all_that_came_before_it() -> None:
    row = case(f6w_date="2025-03-20", f6w_pain="2", died_on="2025-07-01")
    other = case(side="right", f6w_date="2025-03-20", f6w_pain="2")
    assert take(file_of(row, other)).added == 2
    patient = Patient.objects.get()
    assert (patient.status, str(patient.status_on)) == ("died", "2025-07-01")
    ended = Review.objects.filter(step__code="12m").values_list("state", "ended_because")
    assert set(ended) == {("not_needed", "death")}
    assert Review.objects.filter(step__code="6w", state="attended").count() == 2


def test_what_a_service_refuses_is_a_fault_of_its_row_and_leaves_nothing() -> None:
    def hear(procedure: Procedure, **heard: Any) -> None:
        if procedure.duration_minutes == 61:
            raise BadInput({"duration_minutes": "not in this house"})

    with heard(notices.procedure_recorded, hear):
        rows = (case(1), case(2, duration_minutes="61"), case(3))
        whole = take(file_of(*rows))
        assert (whole.added, Patient.objects.count()) == (0, 0)
        good = take(file_of(*rows), keep_good=True)
    assert said(whole) == said(good) == ["line 3, duration_minutes '61': not in this house"]
    assert (good.added, Patient.objects.count()) == (2, 2)
    assert trailed.holds()


@contextmanager
def heard(notice: Signal, hear: Any) -> Iterator[None]:
    notice.connect(hear)
    yield
    notice.disconnect(hear)


def test_an_end_that_was_known_before_is_not_said_to_be_the_rows() -> None:
    take(file_of(case(1, died_on="2025-07-01")))
    take(file_of(case(1, side="right", died_on="2025-07-01")))
    Patient.objects.update(changed_at=NOW - timedelta(days=1), recorded_at=NOW - timedelta(days=2))
    take(file_of(case(1, procedure_date="2025-03-01", died_on="2025-07-01")))
    told = ImportRow.objects.order_by("pk").values_list("ended_as", flat=True)
    assert (told.first(), told.last()) == ("died", "")


def test_nothing_is_asked_about_hardware_that_is_out() -> None:
    take(file_of(case(construct_type="HP", removal_date="2025-06-01")))
    assert Procedure.objects.get(kind="implant_removal").planned_removal
    assert not HardwareDecision.objects.exists()
