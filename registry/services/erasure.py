"""Erasing a patient on request: names go, facts stay only where the patient allowed it."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction

from registry import notices
from registry.errors import BadInput
from registry.models.identities import AlternativeContact, Identifier, Identity
from registry.models.patients import (
    Consent,
    ConsentDecision,
    ConsentPurpose,
    Patient,
    PatientStatus,
)
from registry.models.people import Person
from registry.services import (
    audit,
    foreign_numbers,
    header_identities,
    hospital_messages,
    patient_locks,
    patients,
    records,
    voiding,
)

# What was recorded until the day from which on somebody opted out may stay as well.
KEEPING = (ConsentDecision.GIVEN, ConsentDecision.FROM_NOW)


@dataclass(frozen=True)
class Erasure:
    """What an erasure did: whether facts stay under the key, and how much went.

    `told` are words about what holds copies: what was deleted, and what may still name the person.
    """

    keeps_facts: bool
    identities_removed: int
    identifiers_removed: int
    trail_entries_blanked: int
    rows_voided: int
    told: tuple[str, ...] = ()


def may_keep_facts(patient: Patient) -> bool:
    """Say whether the patient's last decision allows the facts to stay in the registry."""
    last = Consent.objects.filter(patient=patient, purpose=ConsentPurpose.REGISTRY).first()
    return last is not None and last.decision in KEEPING


def erase_patient(
    *,
    patient: Patient,
    reason: str,
    by: Person,
    now: datetime,
    today: date,
    on: str = "on request",
) -> Erasure:
    """Remove identity and identifiers, in the trail too; void the facts unless they may be kept.

    What had been merged into the patient is erased with it. `on` says what for: a person's request, or
    a site's rule. Raises BadInput without a reason, or when nothing is left to erase.
    """
    _erasable(patient, reason)
    because = f"erasure {on}: {reason.strip()}"
    with transaction.atomic():
        with records.change(by=by, reason=because):
            # Under the lock nobody adds a name, a number or a decision that would be passed over.
            patient_locks.hold_whatever(patient)
            _erasable(patient, reason)
            keeps = may_keep_facts(patient)
            everyone = _with_merged(patient)
            _end_follow_up(patient, because, by, now, today)
            AlternativeContact.objects.filter(patient__in=everyone).delete()
            header_identities.forget_like(patients=everyone)
            _forget_messages(everyone, now)
            names = Identity.objects.filter(patient__in=everyone).delete()[0]
            numbers = Identifier.objects.filter(patient__in=everyone).delete()[0]
            foreign_numbers.forget(patients=everyone)
            done = [_void(one, keeps, because, by, now) for one in everyone]
        blanked = sum(
            audit.erase_names(patient=one, reason=because, by=by, now=now) for one in everyone
        )
    # Of what was merged the same is told twice.
    told = tuple(dict.fromkeys(line for _, lines in done for line in lines))
    return Erasure(keeps, names, numbers, blanked, sum(voided for voided, _ in done), told)


def _erasable(patient: Patient, reason: str) -> None:
    if not reason.strip():
        raise BadInput({"reason": "Say who asked for the erasure, when and in what way."})
    if Patient.everything.filter(pk=patient.pk, merged_into__isnull=False).exists():
        raise BadInput("This entry was merged into another; erase the patient that was kept.")
    if not Identity.objects.filter(patient=patient).exists():
        raise BadInput(f"{patient} has no identity left to erase.")


def _with_merged(patient: Patient) -> list[Patient]:
    everyone = [patient]
    for one in everyone:
        everyone.extend(Patient.everything.filter(merged_into=one))
    return everyone


def _end_follow_up(patient: Patient, because: str, by: Person, now: datetime, today: date) -> None:
    if patient.status == PatientStatus.ACTIVE and patient.voided_at is None:
        patients.change_status(
            patient=patient,
            status=PatientStatus.WITHDRAWN,
            on=today,
            note=because[:300],
            expected_version=patient.version,
            by=by,
            now=now,
            today=today,
        )


def _forget_messages(everyone: list[Patient], now: datetime) -> None:
    rows = Identity.objects.filter(patient__in=everyone)
    numbers = Identifier.objects.filter(patient__in=everyone).values_list("value", flat=True)
    hospital_messages.forget_like(
        patients=everyone,
        numbers=list(numbers),
        names=[f"{row.family_name}^{row.given_name}" for row in rows],
        now=now,
    )


def _void(
    patient: Patient, keeps: bool, because: str, by: Person, now: datetime
) -> tuple[int, list[str]]:
    """Void what may not be kept and announce it; return how much, and what the hearers tell."""
    voided = 0 if keeps else voiding.void_all_of(patient=patient, reason=because, by=by, now=now)
    answers: list[tuple[Any, Any]] = notices.patient_erased.send(
        sender=Patient, patient=patient, keep_facts=keeps, reason=because, by=by, now=now
    )
    return voided, [line for _, lines in answers for line in lines or ()]
