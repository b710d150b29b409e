"""Patients without a name, and merges and moves that cannot be undone, are found."""

import json
from typing import Any

import pytest
from django.db import connection

from registry.models import AuditEntry, Injury, Patient, PatientMerge
from registry.services import erasure, moves, operation_moves
from registry.services.moved_rows import Along
from tests import builders
from tests.builders import NOW, TODAY
from tests.damage import LOOKED_AT, broken, sql

pytestmark = pytest.mark.django_db


def test_a_patient_without_a_name_is_found(damaging: dict[str, Any]) -> None:
    whose = builders.patient()
    assert broken() == {}
    assert sql("DELETE FROM registry_identity WHERE patient_id = %s", whose.pk) == 1
    assert broken() == {
        "identities": [
            f"registry_patient {whose.pk}: it has no identity and was never erased",
        ]
    }


def test_an_erased_patient_with_a_name_is_found(damaging: dict[str, Any]) -> None:
    whose = builders.patient()
    AuditEntry.objects.create(
        at=LOOKED_AT, action="erase", table="registry_patient", row_id=str(whose.pk), after={}
    )
    found = broken()
    assert list(found) == ["identities"]
    assert {row.split(": ")[1] for row in found["identities"]} == {
        "it was erased, and its identity is there",
        "it was erased, and its identifier is there",
    }


def test_what_an_erasure_leaves_breaks_no_rule(damaging: dict[str, Any]) -> None:
    whose = Patient.objects.get(pk=damaging["patient_id"])
    erasure.erase_patient(
        patient=whose, reason="by letter", by=whose.recorded_by, now=NOW, today=TODAY
    )
    assert broken() == {}


def test_a_merged_patient_whose_merge_is_undone_is_found(damaging: dict[str, Any]) -> None:
    merge = PatientMerge.objects.get(pk=damaging["merge_id"])
    values = (NOW, merge.merged_by_id, merge.pk)
    query = "UPDATE registry_patientmerge SET undone_at = %s, undone_by_id = %s WHERE id = %s"
    assert sql(query, *values) == 1
    assert broken() == {
        "merges": [f"registry_patient {merge.merged_id}: no merge says why it was merged"]
    }


def test_what_stayed_with_a_merged_patient_is_found(damaging: dict[str, Any]) -> None:
    merge = PatientMerge.objects.get(pk=damaging["merge_id"])
    stray = Injury.objects.filter(patient=merge.kept).first()
    assert stray is not None
    query = "UPDATE registry_injury SET patient_id = %s WHERE id = %s"
    assert sql(query, merge.merged_id, stray.pk) == 1
    found = broken()
    assert f"registry_injury {stray.pk}: it stayed with a patient" in found["merges"][0]
    assert set(found) <= {"merges", "messages_to"}


@pytest.mark.parametrize(
    ("table", "what"),
    [
        ("registry_consent", [999_999]),
        ("registry_patientsite", [999_998]),
    ],
)
def test_a_merge_that_names_rows_that_are_gone_is_found(
    damaging: dict[str, Any], table: str, what: list[int]
) -> None:
    merge = PatientMerge.objects.get(pk=damaging["merge_id"])
    changed_moved(merge, {**merge.moved, table: what})
    found = broken()
    assert list(found) == ["merges"]
    assert f"of {table}, {what[0]} is not there any more" in found["merges"][0]


def test_a_merge_without_what_undoing_needs_is_found(damaging: dict[str, Any]) -> None:
    merge = PatientMerge.objects.get(pk=damaging["merge_id"])
    changed_moved(merge, {})
    found = broken()
    assert list(found) == ["merges"]
    assert "it lacks registry_injury" in found["merges"][0]


def moved_injury(damaging: dict[str, Any]) -> Any:
    to = builders.patient()
    injury = builders.injury(builders.patient())
    return moves.move_to_patient(
        injury=injury,
        to=to,
        reason="the other card",
        expected_version=injury.version,
        to_version=to.version,
        by=injury.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_a_move_whose_injury_is_elsewhere_is_found(damaging: dict[str, Any]) -> None:
    move = moved_injury(damaging)
    assert broken() == {}
    query = "UPDATE registry_injury SET patient_id = %s WHERE id = %s"
    assert sql(query, move.from_patient_id, move.injury_id) == 1
    assert broken() == {
        "moves": [f"registry_recordmove {move.pk}: its injury is with another patient than it says"]
    }


def test_a_move_that_cannot_be_undone_is_found(damaging: dict[str, Any]) -> None:
    move = moved_injury(damaging)
    changed_moved(move, {**move.moved, "followup_task": [999_999]})
    assert list(broken()) == ["moves"]
    changed_moved(move, {})
    assert "it lacks before, dates, patient_site" in broken()["moves"][0]


def test_an_operation_that_is_elsewhere_than_its_move_says_is_found(
    damaging: dict[str, Any],
) -> None:
    operation = builders.procedure(builders.injury(builders.patient()))
    move = operation_moves.move_to_new_injury(
        procedure=operation,
        patient=builders.patient(),
        values={
            "kind": operation.injury.kind,
            "side": operation.injury.side,
            "injured_earliest": operation.injury.injured_earliest,
            "injured_latest": operation.injury.injured_latest,
        },
        along=Along({}, offered=""),
        reason="the other card",
        expected_version=operation.version,
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    assert broken() == {}
    # Its parts and reviews say so as well, where they are of one patient.
    query = "UPDATE registry_procedure SET injury_id = %s WHERE id = %s"
    assert sql(query, move.injury_id, operation.pk) == 1
    assert broken() == {
        "moves": [f"registry_recordmove {move.pk}: its operation is on another injury than it says"]
    }


def changed_moved(act: Any, moved: dict[str, Any]) -> None:
    cast = "::jsonb" if connection.vendor == "postgresql" else ""
    query = f"UPDATE {act._meta.db_table} SET moved = %s{cast} WHERE id = %s"
    assert sql(query, json.dumps(moved), act.pk) == 1


def test_an_injury_of_a_void_patient_is_found(damaging: dict[str, Any]) -> None:
    injury = builders.injury(builders.patient())
    query = (
        "UPDATE registry_patient SET voided_at = changed_at, voided_by_id = changed_by_id, "
        "void_reason = 'wrong' WHERE id = %s"
    )
    assert sql(query, injury.patient_id) == 1
    assert broken() == {
        "injuries_of_patients": [
            f"registry_injury {injury.pk}: it stands, and its patient is void",
        ]
    }
