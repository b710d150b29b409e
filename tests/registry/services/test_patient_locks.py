"""What is added to a patient is refused where the entry was merged, voided or erased since it was read."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from registry.errors import BadInput
from registry.models import AlternativeContact, Consent, Identifier, Injury, Patient
from registry.models.identities import Identity
from registry.services import alternatives, enrolment, erasure, merges, patient_locks, patients
from registry.services.enrolment import ConsentGiven, IdentifierGiven
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db
ADDED: tuple[Any, ...] = (Injury, Consent, Identifier, AlternativeContact)


def injure(patient: Patient) -> None:
    enrolment.record_injury(
        patient=patient,
        site=patient.site,
        values={
            "kind": "lateral_clavicle",
            "side": "left",
            "injured_earliest": date(2026, 5, 1),
            "injured_latest": date(2026, 5, 1),
            "mechanism": "sport",
        },
        classes={},
        **act(patient),
    )


def opt_out(patient: Patient) -> None:
    given = ConsentGiven("registry", "opted_out", TODAY, "letter", "letter", "patient")
    patients.add_consent(patient=patient, site=patient.site, given=given, **act(patient))


def refuse_contact(patient: Patient) -> None:
    given = ConsentGiven("contact", "opted_out", TODAY, "letter", "letter", "patient")
    patients.add_consent(patient=patient, site=patient.site, given=given, **act(patient))


def number(patient: Patient) -> None:
    patients.add_identifier(
        patient=patient,
        site=patient.site,
        given=IdentifierGiven("region", "R-1"),
        by=patient.recorded_by,
    )


def name_another(patient: Patient) -> None:
    alternatives.save_alternative(
        contact=AlternativeContact(patient=patient),
        values={"name": "Bo", "relation": "a friend", "phone": "0555 7"},
        expected_version=0,
        **act(patient),
    )


def act(patient: Patient) -> dict[str, Any]:
    return {"by": patient.recorded_by, "now": NOW, "today": TODAY}


def rows() -> list[int]:
    return [model.objects.count() for model in ADDED]


def merge(kept: Patient, merged: Patient) -> None:
    merges.merge_patients(
        kept=kept,
        merged=Patient.objects.get(pk=merged.pk),
        reason="one person",
        kept_version=kept.version,
        merged_version=merged.version,
        by=kept.recorded_by,
        now=NOW,
    )


@pytest.mark.parametrize("add", [injure, opt_out, refuse_contact, number, name_another])
def test_what_is_added_to_an_entry_that_was_merged_meanwhile_is_refused(
    add: Callable[[Patient], None],
) -> None:
    kept, merged = builders.patient(), builders.patient()
    merge(kept, merged)
    before = rows()
    assert merged.merged_into_id is None, "as it was read before the merge"
    with pytest.raises(BadInput, match=f"merged into {kept}"):
        add(merged)
    assert rows() == before


@pytest.mark.parametrize("add", [number, name_another])
def test_nothing_that_names_a_person_comes_back_to_one_who_was_erased(
    add: Callable[[Patient], None],
) -> None:
    patient = builders.patient()
    patients.add_consent(
        patient=patient,
        site=patient.site,
        given=ConsentGiven("registry", "given", date(2026, 6, 1), "form"),
        **act(patient),
    )
    seen = Patient.objects.get(pk=patient.pk)
    assert Identity.objects.filter(patient=seen).exists()
    erasure.erase_patient(patient=patient, reason="letter", **act(patient))
    before = rows()
    with pytest.raises(BadInput, match="was erased"):
        add(seen)
    assert rows() == before


def test_nothing_is_added_to_an_entry_that_was_voided_meanwhile() -> None:
    patient = builders.patient()
    Patient.objects.filter(pk=patient.pk).update(
        voided_at=NOW, voided_by=patient.recorded_by, void_reason="twice"
    )
    with pytest.raises(BadInput, match="was voided"):
        injure(patient)


def test_a_patient_who_stands_is_held() -> None:
    patient = builders.patient()
    patient_locks.hold(patient)
    patient_locks.hold_named(patient)
