"""The other people through whom a patient may be reached, and the notice that a contact is new."""

from collections.abc import Mapping
from datetime import date, datetime

from registry import notices
from registry.errors import BadInput
from registry.models.identities import AlternativeContact, Identity
from registry.models.patients import Patient
from registry.models.people import Person
from registry.services import patient_locks, records, setup

# What a person is reached by; a new value in one of these opens a way that was not there before.
CONTACTS = ("phone", "email", "address", "other_contact_name", "other_contact_phone")


def save_alternative(
    *,
    contact: AlternativeContact,
    values: Mapping[str, str],
    expected_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> AlternativeContact:
    """Add another contact of a patient, or correct one over the version that the user saw.

    Raises BadInput when the patient has this number already, or was merged into another or erased,
    StaleVersion when somebody was quicker.
    """
    phone = values.get("phone", contact.phone)
    with records.change(by=by):
        patient_locks.hold_named(contact.patient)
        others = AlternativeContact.objects.filter(patient_id=contact.patient_id, phone=phone)
        if others.exclude(pk=contact.pk).exists():
            raise BadInput({"phone": f"{phone} is already one of this patient's other contacts."})
        setup.save_versioned(contact, values, expected_version=expected_version, by=by)
        say_changed(patient=contact.patient, by=by, now=now, today=today)
    return contact


def remove_alternative(*, contact: AlternativeContact, reason: str, by: Person) -> None:
    """Take another contact away; the trail keeps it with the reason.

    Raises BadInput without a reason.
    """
    if not reason.strip():
        raise BadInput({"reason": "Say why this contact is not to be used any more."})
    with records.change(by=by, reason=reason):
        contact.delete()


def say_changed(*, patient: Patient, by: Person, now: datetime, today: date) -> None:
    """Keep when a way of contact became known, and announce it."""
    with records.change(by=by):
        Identity.objects.filter(patient=patient).update(contacts_changed_at=now)
        notices.contact_changed.send(sender=Patient, patient=patient, by=by, now=now, today=today)
