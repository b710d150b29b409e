"""Other people through whom a patient may be reached, and the notice of a new contact."""

from collections.abc import Iterator
from typing import Any

import pytest

from registry import notices
from registry.errors import BadInput, StaleVersion
from registry.models import AlternativeContact, AuditEntry, Identity, Patient
from registry.services import alternatives, erasure, merges, patients
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def heard() -> Iterator[list[Patient]]:
    told: list[Patient] = []

    def listen(sender: object, patient: Patient, **kwargs: Any) -> None:
        told.append(patient)

    notices.contact_changed.connect(listen)
    yield told
    notices.contact_changed.disconnect(listen)


def other(patient: Patient, version: int = 1, **values: str) -> AlternativeContact:
    row = AlternativeContact.objects.filter(patient=patient).first()
    return alternatives.save_alternative(
        contact=row if row and version > 1 else AlternativeContact(patient=patient),
        values={"name": "Imre Quill", "relation": "son", "phone": "0555 010 1111", **values},
        expected_version=version,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )


def correct(patient: Patient, **values: Any) -> None:
    identity = Identity.objects.get(patient=patient)
    patients.correct_identity(
        identity=identity,
        values=values,
        expected_version=identity.version,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_several_others_are_kept_and_each_is_announced(heard: list[Patient]) -> None:
    patient = builders.patient()
    other(patient)
    other(patient, name="Wenche", relation="", phone="0555 010 2222")
    said = [str(row) for row in patient.alternative_contacts.all()]
    assert said == ["Imre Quill (son), 0555 010 1111", "Wenche, 0555 010 2222"]
    assert heard == [patient, patient]
    assert Identity.objects.get().contacts_changed_at == NOW


def test_a_number_that_is_there_already_is_refused() -> None:
    patient = builders.patient()
    other(patient)
    with pytest.raises(BadInput, match="already one of this patient's"):
        other(patient, name="Somebody")
    assert AlternativeContact.objects.count() == 1


def test_two_who_correct_one_contact_do_not_overwrite_each_other() -> None:
    patient = builders.patient()
    row = other(patient)
    mine, theirs = (AlternativeContact.objects.get(pk=row.pk) for _ in range(2))
    at = {"by": patient.recorded_by, "now": NOW, "today": TODAY, "expected_version": 1}
    alternatives.save_alternative(contact=theirs, values={"phone": "1"}, **at)
    with pytest.raises(StaleVersion):
        alternatives.save_alternative(contact=mine, values={"phone": "2"}, **at)
    assert AlternativeContact.objects.get().phone == "1"


def test_taking_one_away_needs_a_reason_and_stays_in_the_trail() -> None:
    patient = builders.patient()
    row = other(patient)
    with pytest.raises(BadInput, match="Say why"):
        alternatives.remove_alternative(contact=row, reason=" ", by=patient.recorded_by)
    alternatives.remove_alternative(contact=row, reason="moved out", by=patient.recorded_by)
    assert not AlternativeContact.objects.exists()
    entry = AuditEntry.objects.filter(table="registry_alternativecontact").latest("id")
    assert (entry.action, entry.reason) == ("delete", "moved out")


@pytest.mark.parametrize("values", [{"phone": "1"}, {"email": "a@b.invalid"}, {"address": "Quay"}])
def test_a_new_way_of_contact_is_announced(values: dict[str, str], heard: list[Patient]) -> None:
    patient = builders.patient()
    correct(patient, **values)
    assert heard == [patient]


@pytest.mark.parametrize("values", [{"given_name": "Eda"}, {"phone": ""}, {"phone": "0555 010 1"}])
def test_what_opens_no_new_way_is_not_announced(
    values: dict[str, str], heard: list[Patient]
) -> None:
    patient = builders.patient(phone="0555 010 1")
    correct(patient, **values)
    assert heard == []
    assert Identity.objects.get().contacts_changed_at is None


def test_erasing_a_patient_takes_the_others_too_in_the_trail_as_well() -> None:
    patient = builders.patient()
    other(patient)
    erasure.erase_patient(
        patient=patient, reason="letter", by=patient.recorded_by, now=NOW, today=TODAY
    )
    assert not AlternativeContact.objects.exists()
    kept = AuditEntry.objects.filter(table="registry_alternativecontact")
    assert {entry.before or entry.after for entry in kept} == {None}


def test_the_others_follow_a_merge_and_go_back_with_it() -> None:
    kept, merged = builders.patient(), builders.patient()
    row = other(merged)
    by = kept.recorded_by
    merge = merges.merge_patients(
        kept=kept,
        merged=merged,
        reason="one passport",
        kept_version=kept.version,
        merged_version=merged.version,
        by=by,
        now=NOW,
    )
    row.refresh_from_db()
    assert row.patient == kept
    merges.unmerge_patients(merge=merge, by=by, now=NOW)
    row.refresh_from_db()
    assert row.patient == merged
