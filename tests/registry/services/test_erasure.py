"""Erasing a patient on request."""

import json
from datetime import date

import pytest

from followup.models import Review
from registry.errors import BadInput
from registry.models import (
    AuditEntry,
    Construct,
    Identifier,
    Identity,
    Injury,
    Patient,
    Procedure,
)
from registry.services import audit, erasure, merges, patients, records
from registry.services.enrolment import ConsentGiven
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def erase(patient: Patient, reason: str = "letter of 20 Nov 2026") -> erasure.Erasure:
    return erasure.erase_patient(
        patient=patient, reason=reason, by=patient.recorded_by, now=NOW, today=TODAY
    )


def decide(patient: Patient, decision: str, on: date) -> None:
    patients.add_consent(
        patient=patient,
        site=patient.site,
        given=ConsentGiven("registry", decision, on, "form"),
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_names_and_numbers_go_and_with_consent_the_facts_stay() -> None:
    operation = builders.procedure()
    patient = operation.injury.patient
    decide(patient, "given", date(2026, 6, 1))
    done = erase(patient)
    assert (done.keeps_facts, done.rows_voided) == (True, 0)
    assert not Identity.objects.exists()
    assert not Identifier.objects.exists()
    assert Procedure.objects.filter(pk=operation.pk).exists()


def test_names_of_a_patient_who_was_voided_go_too() -> None:
    # As an import leaves whom it had enrolled, when it is taken back.
    patient = builders.patient()
    by = patient.recorded_by
    records.void_all(Patient.everything.filter(pk=patient.pk), by=by, now=NOW, reason="taken back")
    patient = Patient.everything.get(pk=patient.pk)
    assert erase(patient).identities_removed == 1
    assert not Identity.objects.exists()


@pytest.mark.usefixtures("defaults")
def test_without_consent_every_clinical_row_is_voided() -> None:
    operation = builders.procedure()
    done = erase(operation.injury.patient)
    assert not done.keeps_facts
    for model in (Patient, Injury, Procedure, Construct, Review):
        assert not model.objects.exists()
        assert model.everything.exists()


def test_the_last_decision_counts() -> None:
    patient = builders.patient()
    decide(patient, "given", date(2026, 6, 1))
    decide(patient, "opted_out", date(2026, 6, 2))
    assert not erasure.may_keep_facts(patient)


def test_nothing_that_was_said_of_the_name_is_left_anywhere_in_the_trail() -> None:
    patient = builders.patient(family_name="Unmistakable", phone="0555 1234")
    patients.correct_identity(
        identity=patient.identity,
        values={"family_name": "Unmistakably"},
        expected_version=1,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )
    erase(patient)
    kept = json.dumps(list(AuditEntry.objects.values_list("before", "after")))
    for secret in ("Unmistakabl", "0555 1234", "north-"):
        assert secret not in kept
    found = audit.verify()
    assert found.broken is None
    assert found.unsealed == 0


def test_another_patients_entries_are_not_touched() -> None:
    other = builders.patient(family_name="Untouched")
    erase(builders.patient())
    assert "Untouched" in json.dumps(list(AuditEntry.objects.values_list("after", flat=True)))
    assert Identity.objects.get().patient == other


def test_the_erasure_is_in_the_trail_with_its_reason_and_person() -> None:
    patient = builders.patient()
    erase(patient)
    entry = AuditEntry.objects.get(action="erase")
    assert (entry.row_id, entry.person_id) == (str(patient.pk), patient.recorded_by_id)
    assert "letter of 20 Nov 2026" in entry.reason


@pytest.mark.usefixtures("defaults")
def test_follow_up_ends_as_by_withdrawal_when_the_facts_stay() -> None:
    operation = builders.procedure()
    patient = operation.injury.patient
    decide(patient, "given", date(2026, 6, 1))
    erase(patient)
    assert Patient.objects.get().status == "withdrawn"
    assert not Review.objects.filter(state__in=["planned", "booked"], closes_on__gte=TODAY).exists()


def test_what_was_merged_into_the_patient_is_erased_with_it() -> None:
    kept, merged = builders.patient(), builders.patient(family_name="Unmistakable")
    merges.merge_patients(
        kept=kept,
        merged=merged,
        reason="one person",
        kept_version=1,
        merged_version=1,
        by=kept.recorded_by,
        now=NOW,
    )
    erase(Patient.objects.get(pk=kept.pk))
    assert not Identity.objects.exists()
    assert "Unmistakable" not in json.dumps(list(AuditEntry.objects.values_list("after")))


def test_a_merged_entry_is_not_erased_by_itself() -> None:
    kept, merged = builders.patient(), builders.patient()
    Patient.objects.filter(pk=merged.pk).update(merged_into=kept)
    with pytest.raises(BadInput, match="erase the patient that was kept"):
        erase(Patient.objects.get(pk=merged.pk))


def test_an_erasure_needs_a_reason_and_something_to_erase() -> None:
    patient = builders.patient()
    with pytest.raises(BadInput, match="Say who asked"):
        erase(patient, reason=" ")
    erase(patient)
    with pytest.raises(BadInput, match="no identity left"):
        erase(Patient.everything.get())
