"""What the trail says, in words."""

from datetime import date

import pytest

from registry.models import Injury, Part, Patient
from registry.selectors import history, patient_tables
from registry.services import audit, injuries
from tests import builders, implanted
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def changes(patient: Patient) -> list[history.Change]:
    rows = patient_tables.rows_of(patient, [patient.site_id])
    return history.in_words(history.entries_about(rows))


def test_a_correction_is_told_with_who_why_and_both_values() -> None:
    hurt = builders.injury()
    injuries.correct_injury(
        injury=hurt,
        values={"energy": "high", "injured_latest": date(2026, 6, 3)},
        expected_version=1,
        reason="seen on the film",
        by=builders.person("selma"),
        now=NOW,
        today=TODAY,
    )
    last = changes(hurt.patient)[0]
    assert (last.who, last.what, last.act, last.reason) == (
        "Selma",
        "injury",
        "changed",
        "seen on the film",
    )
    assert history.FieldChange("Energy", "Unknown", "High") in last.fields
    assert history.FieldChange("Injured latest", "2026-06-01", "2026-06-03") in last.fields


def test_the_first_entry_is_the_patient_and_the_last_comes_first() -> None:
    hurt = builders.injury()
    told = changes(hurt.patient)
    assert (told[-1].what, told[-1].act) == ("patient", "recorded")
    assert told[0].what == "classification"


def test_a_new_row_tells_only_what_was_said_of_it() -> None:
    hurt = builders.injury(classes={}, energy="high")
    recorded = next(one for one in changes(hurt.patient) if one.what == "injury")
    labels = {field.label for field in recorded.fields}
    assert "Energy" in labels
    assert not labels & {"Smoking", "Patient", "Version", "Missing"}


def test_a_read_is_told_with_the_page() -> None:
    patient = builders.patient()
    audit.record_read(by=builders.person("selma"), patient=patient, now=NOW, page="patient")
    last = changes(patient)[0]
    assert (last.who, last.act, last.reason) == ("Selma", "opened", "patient")


def test_another_patients_entries_are_not_told() -> None:
    mine, other = builders.injury(), builders.injury()
    rows = patient_tables.rows_of(mine.patient, [mine.site_id])
    about = set(history.entries_about(rows).values_list("table", "row_id"))
    assert ("registry_injury", str(mine.pk)) in about
    assert ("registry_injury", str(other.pk)) not in about


def test_voided_rows_keep_their_history() -> None:
    hurt = builders.injury()
    Injury.objects.update(voided_at=NOW, voided_by=hurt.recorded_by, void_reason="wrong")
    assert history.FieldChange("Void reason", "nothing", "wrong") in changes(hurt.patient)[0].fields


def test_a_list_is_told_by_the_words_in_it() -> None:
    row = implanted.part(batch="LOT9")
    Part.objects.update(warnings=[{"code": "late", "words": "Expired"}], version=2)
    last = changes(row.construct.procedure.injury.patient)[0]
    assert history.FieldChange("Warnings", "nothing", "Expired") in last.fields
