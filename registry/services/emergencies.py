"""Opening a patient of another site in an emergency, ending it, and looking at it afterwards."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.conf import settings

from registry.errors import BadInput, IllegalTransition
from registry.models.emergencies import EmergencyAccess
from registry.models.patients import Patient, PatientSite
from registry.models.people import Person
from registry.selectors import emergencies as selector
from registry.selectors.visible import require, site_ids
from registry.services import audit, records

LEAST_WORDS = 20


def open_patient(
    *, patient: Patient, reason: str, by: Person, now: datetime, today: date
) -> list[EmergencyAccess]:
    """Open a patient of another site for reading; what is open already stays as it is.

    Returns an access for each site that treats the patient and where the person sees none. Raises
    BadInput without a reason of some words, or where the person sees the patient anyway; NotAllowed
    for who looks after no patients.
    """
    require(by, "open_in_emergency")
    said = " ".join(reason.split())
    if len(said) < LEAST_WORDS:
        raise BadInput(
            {"reason": f"Say why in at least {LEAST_WORDS} letters: somebody of the site reads it."}
        )
    own = site_ids(by, "see_patient")
    theirs = PatientSite.objects.filter(patient=patient, site__is_active=True)
    elsewhere = theirs.exclude(site_id__in=own).values_list("site_id", flat=True)
    if not elsewhere:
        raise BadInput("You see this patient anyway: look under Patients.")
    with records.change(by=by, reason=f"emergency: {said}"):
        return [_opened(patient, site_id, said, by, now, today) for site_id in elsewhere]


def _opened(
    patient: Patient, site_id: int, reason: str, by: Person, now: datetime, today: date
) -> EmergencyAccess:
    there = EmergencyAccess.objects.filter(
        person=by, patient=patient, site_id=site_id, ends_at__gt=now
    ).first()
    return there or EmergencyAccess.objects.create(
        person=by,
        patient=patient,
        site_id=site_id,
        reason=reason[:300],
        opened_at=now,
        ends_at=now + timedelta(minutes=settings.EMERGENCY_MINUTES),
        look_by=today + timedelta(days=settings.EMERGENCY_LOOK_DAYS),
    )


def end(*, access: EmergencyAccess, by: Person, now: datetime) -> int:
    """End what a person has open of a patient, at every site; return how many ended."""
    with records.change(by=by, reason="emergency ended"):
        return EmergencyAccess.objects.filter(
            person=by, patient=access.patient_id, ends_at__gt=now
        ).update(ends_at=now)


def record_finding(
    *, access: EmergencyAccess, finding: str, by: Person, now: datetime
) -> EmergencyAccess:
    """Record what somebody of the site found when they looked at an access.

    Raises BadInput without words or for one's own access, IllegalTransition where it was looked at.
    """
    said = " ".join(finding.split())
    if not said:
        raise BadInput({"finding": "Say what you found, and what follows from it."})
    if access.person_id == by.pk:
        raise BadInput("This was you: somebody else has to look at it.")
    with records.change(by=by, reason="emergency looked at"):
        done = EmergencyAccess.objects.filter(pk=access.pk, looked_at__isnull=True).update(
            finding=said[:300], looked_at=now, looked_by=by
        )
        if not done:
            raise IllegalTransition("This access", present="looked at", wanted="looked at")
    access.refresh_from_db()
    return access


def write_down(*, by: Any, text: str, numbers: Sequence[int], page: str, now: datetime) -> int:
    """Write into the trail which patients an answer shows by an emergency access; return how many.

    `numbers` are those of rows that stand in the address.
    """
    found = selector.shown(by, text, numbers)
    for access in found:
        audit.record_read(
            by=by, patient=access.patient, now=now, page=f"{selector.OPENED} {access.pk}: {page}"
        )
    return len(found)
