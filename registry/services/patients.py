"""What happens to a patient as a whole: identity, consent, dying, withdrawing, moving, returning."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from registry import notices
from registry.errors import BadInput, StaleVersion
from registry.models.identities import Identifier, Identity, Means
from registry.models.patients import Consent, ConsentPurpose, Patient, PatientStatus
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.models.sites import Site
from registry.selectors import choices
from registry.services import alternatives, injuries, patient_locks, records
from registry.services.enrolment import (
    ConsentGiven,
    IdentifierGiven,
    identifiers_free,
    record_consent,
    save_identity,
)
from registry.services.moved_rows import hand_on

# By this note a withdrawal is known that came with an opt-out, and goes with its being taken back.
OPTED_OUT = "opted out of the registry"


def change_status(
    *,
    patient: Patient,
    status: str,
    on: date | None,
    note: str,
    expected_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> Patient:
    """Record that a patient died, withdrew, moved away or is back, and announce it.

    Raises BadInput without a date (unless active) or with an impossible one, StaleVersion.
    """
    if status == PatientStatus.ACTIVE:
        on = None
    elif on is None:
        raise BadInput({"status_on": "Give the date on which this happened."})
    elif on > today:
        raise BadInput({"status_on": f"{on} is in the future."})
    else:
        _ending_possible(patient, status, on)
    with records.change(by=by, reason=note):
        records.save(
            patient,
            {"status": status, "status_on": on, "status_note": note},
            by=by,
            now=now,
            expected_version=expected_version,
            reason=note,
        )
        notices.patient_status_changed.send(
            sender=Patient, patient=patient, by=by, now=now, today=today
        )
    return patient


def _ending_possible(patient: Patient, status: str, on: date) -> None:
    """Refuse an ending before the birth, and a death before an operation."""
    identity = Identity.objects.filter(patient=patient).first()
    if identity is not None and on < identity.birth_earliest:
        raise BadInput({"status_on": f"{on} is before the patient's birth."})
    last = Procedure.objects.filter(injury__patient=patient).order_by("performed_on").last()
    if status == PatientStatus.DIED and last is not None and on < last.performed_on:
        raise BadInput(
            {
                "status_on": (
                    f"{on} is before an operation ({last.performed_on}). "
                    "Correct one of the two dates."
                )
            }
        )


def correct_identity(
    *,
    identity: Identity,
    values: Mapping[str, Any],
    expected_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> Identity:
    """Correct names, birth date or contacts over the version that the user saw.

    Age and sex at each injury follow; a new number or address is announced. Raises StaleVersion when somebody changed them first, BadInput
    when the birth date lies in the future or after an injury.
    """
    if values.get("birth_earliest", identity.birth_earliest) > today:
        raise BadInput({"birth_date": f"{values['birth_earliest']} is in the future."})
    with records.change(by=by):
        taken = Identity.objects.filter(pk=identity.pk, version=expected_version).update(
            version=expected_version + 1
        )
        if not taken:
            current = Identity.objects.values_list("version", flat=True).get(pk=identity.pk)
            raise StaleVersion("The identity", expected=expected_version, current=current)
        identity.version = expected_version + 1
        before = Identity.objects.values(*alternatives.CONTACTS).get(pk=identity.pk)
        save_identity(identity, values)
        injuries.follow_identity(identity=identity, by=by, now=now)
        if any(getattr(identity, name) not in ("", before[name]) for name in before):
            alternatives.say_changed(patient=identity.patient, by=by, now=now, today=today)
    return identity


def refuse_means(*, patient: Patient, means: str, by: Person) -> bool:
    """Note that a patient wants nothing by a means any more; False when that is noted already.

    Raises BadInput for a means that is none.
    """
    if means not in Means.values:
        raise BadInput({"refused_means": f"'{means}' is none of {', '.join(Means.values)}."})
    with records.change(by=by):
        # Two answers at once come one after the other.
        identity = Identity.objects.select_for_update().get(patient=patient)
        if means in identity.refused_means:
            return False
        identity.refused_means = [*identity.refused_means, means]
        identity.version += 1
        identity.save(update_fields=["refused_means", "version"])
    return True


def add_identifier(
    *, patient: Patient, site: Site, given: IdentifierGiven, by: Person
) -> Identifier:
    """Give a patient a further number at a site.

    Raises BadInput when the number is already somebody's, the patient's own included, or the patient
    was merged into another or erased.
    """
    identifiers_free(site, [given])
    with records.change(by=by):
        patient_locks.hold_named(patient)
        return records.put(
            Identifier(
                patient=patient, site=site, issuing_system=given.issuing_system, value=given.value
            )
        )


def number_of(*, patient: Patient, site: Site, given: IdentifierGiven) -> int | None:
    """Return the key of a patient's number at a site, None where it is not theirs."""
    wanted = (site.pk, given.issuing_system, given.value)
    rows = records.under(Identifier, patient=patient)
    return next(
        (one.pk for one in rows if (one.site_id, one.issuing_system, one.value) == wanted), None
    )


def remove_identifier(*, identifier: Identifier, reason: str, by: Person, now: datetime) -> None:
    """Take a wrong number away from a patient, who counts as changed; the trail keeps it with the reason.

    Raises BadInput without a reason.
    """
    if not reason.strip():
        raise BadInput({"reason": "Say why this number is not the patient's."})
    with records.change(by=by, reason=reason):
        hand_on(Patient.objects.filter(pk=identifier.patient_id), by=by, now=now)
        identifier.delete()


def remove_identifiers(*, keys: Sequence[int], reason: str, by: Person, now: datetime) -> int:
    """Take numbers away that an import had given and that is taken back; return how many.

    The patients who stay count as changed.
    """
    with records.change(by=by, reason=reason):
        hand_on(Patient.objects.filter(identifiers__in=keys).distinct(), by=by, now=now)
        return Identifier.objects.filter(pk__in=keys).delete()[0]


def add_consent(
    *,
    patient: Patient,
    site: Site,
    given: ConsentGiven,
    by: Person,
    now: datetime,
    today: date,
    goes_on: bool = False,
) -> Consent:
    """Record a further decision; the one with the latest date counts.

    Who opts out of the registry, from the day on or wholly, is under follow-up no longer, unless it
    `goes_on` because it is clinically needed; who takes that back is again. Raises BadInput when it was
    decided in the future, when an opt-out does not say in what way and by whom, or when the patient was
    merged into another meanwhile.
    """
    if given.decided_on > today:
        raise BadInput({"decided_on": f"{given.decided_on} is in the future."})
    with records.change(by=by, reason=given.basis):
        patient_locks.hold(patient)
        made = record_consent(patient=patient, site=site, given=given, by=by, now=now)
        if given.purpose == ConsentPurpose.REGISTRY:
            follow_choice(patient=patient, goes_on=goes_on, by=by, now=now, today=today)
    return made


def follow_choice(
    *, patient: Patient, goes_on: bool, by: Person, now: datetime, today: date
) -> None:
    """Let follow-up end, or begin again, as the patient's choice about the registry has it now."""
    # The lock makes two decisions at once come one after the other.
    row = Patient.objects.select_for_update().get(pk=patient.pk)
    decision, on = choices.of_patients([row.pk]).get(row.pk, ("", today))
    out = decision in choices.ENDED
    if out and not goes_on and row.status == PatientStatus.ACTIVE:
        _set_status(row, PatientStatus.WITHDRAWN, on, by, now, today)
    elif not out and row.status == PatientStatus.WITHDRAWN and row.status_note == OPTED_OUT:
        _set_status(row, PatientStatus.ACTIVE, None, by, now, today)
    notices.registry_choice_made.send(sender=Patient, patient=row, by=by, now=now, today=today)


def _set_status(
    row: Patient, status: str, on: date | None, by: Person, now: datetime, today: date
) -> None:
    change_status(
        patient=row,
        status=status,
        on=on,
        note=OPTED_OUT if on else "",
        expected_version=row.version,
        by=by,
        now=now,
        today=today,
    )
