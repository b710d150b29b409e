"""A patient, the injury, the operation and its construct, each saved as it is given."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from registry import notices
from registry.errors import BadInput
from registry.models.constructs import Construct, Part
from registry.models.identities import Identifier, Identity
from registry.models.injuries import EDITIONS, Classification, Injury
from registry.models.patients import Consent, Patient, PatientSite, PatientStatus
from registry.models.people import Person
from registry.models.procedures import Procedure, ProcedureKind
from registry.models.sites import Site
from registry.services import construct_checks, implants, merges, patient_locks, records

REVISING = (ProcedureKind.REVISION_FIXATION, ProcedureKind.IMPLANT_REMOVAL)
HOSPITAL_NUMBER = "hospital number"


@dataclass(frozen=True)
class IdentifierGiven:
    """One number of the patient and the system that issued it."""

    issuing_system: str
    value: str


@dataclass(frozen=True)
class ConsentGiven:
    """One decision about one purpose: its date and basis, in what way and by whom it was told."""

    purpose: str
    decision: str
    decided_on: date
    basis: str
    channel: str = ""
    told_by: str = ""


def enrol_patient(
    *,
    site: Site,
    identity: Mapping[str, Any],
    identifiers: Sequence[IdentifierGiven],
    consents: Sequence[ConsentGiven] = (),
    different_from: Sequence[Patient] = (),
    numbers_free: bool = False,
    by: Person,
    now: datetime,
    today: date,
) -> Patient:
    """Save a new patient with identity, identifiers and consent.

    `different_from` are similar patients of whom the user said that they are somebody else.
    `numbers_free` says that the caller has asked whether the identifiers are anybody's; the database
    holds to it. Raises BadInput when a birth date lies in the future, or an identifier is already
    somebody's.
    """
    _birth_possible(identity, today)
    if not numbers_free:
        identifiers_free(site, identifiers)
    with records.change(by=by):
        patient = records.create(Patient(site=site), by=by, now=now)
        records.put(PatientSite(patient=patient, site=site))
        save_identity(Identity(patient=patient), identity)
        for given in identifiers:
            records.put(
                Identifier(
                    patient=patient,
                    site=site,
                    issuing_system=given.issuing_system,
                    value=given.value,
                )
            )
        for decision in consents:
            record_consent(patient=patient, site=site, given=decision, by=by, now=now)
        for other in different_from:
            merges.say_two_people(one=patient, other=other, by=by, now=now)
    return patient


def save_identity(row: Identity, values: Mapping[str, Any]) -> Identity:
    """Set the identity's values and the name that lists are sorted and searched by."""
    for name, value in values.items():
        setattr(row, name, value)
    row.sort_name = f"{row.family_name} {row.given_name}".casefold()[:170]
    if row._state.adding:
        return records.put(row)
    records.check(row)
    row.save()
    return row


def record_consent(
    *, patient: Patient, site: Site, given: ConsentGiven, by: Person, now: datetime
) -> Consent:
    """Save one decision of the patient about one purpose."""
    return records.create(
        Consent(
            patient=patient,
            site=site,
            purpose=given.purpose,
            decision=given.decision,
            decided_on=given.decided_on,
            basis=given.basis,
            channel=given.channel,
            told_by=given.told_by,
        ),
        by=by,
        now=now,
    )


def record_injury(
    *,
    patient: Patient,
    site: Site,
    values: Mapping[str, Any],
    classes: Mapping[str, str],
    by: Person,
    now: datetime,
    today: date,
) -> Injury:
    """Save an injury with its classes (system -> code); age and sex are taken from the identity.

    Raises BadInput when the injury lies in the future or before birth, or the patient was merged into
    another meanwhile.
    """
    injury = Injury(patient=patient, site=site, **values)
    identity: Identity | None = getattr(patient, "identity", None)
    injury_possible(injury, identity, today)
    if identity is not None:
        injury.sex = identity.sex
        injury.age_years = age_at(identity, injury)
    with records.change(by=by):
        patient_locks.hold(patient)
        if site.pk != patient.site_id:
            PatientSite.objects.get_or_create(patient=patient, site=site)
        records.create(injury, by=by, now=now)
        for system, code in classes.items():
            # Whoever types a class is not known to have given it.
            classify(injury=injury, system=system, code=code, opinion_of=None, by=by, now=now)
    return injury


def classify(
    *,
    injury: Injury,
    system: str,
    code: str,
    opinion_of: Person | None,
    by: Person,
    now: datetime,
) -> Classification:
    """Give an injury a class; an earlier opinion in the same system is kept as superseded.

    `opinion_of` is who gives it today; None where only the class is known, not whose it is.
    """
    with records.change(by=by):
        for earlier in records.under(Classification, injury=injury):
            if earlier.system == system and not earlier.superseded:
                records.save(
                    earlier, {"superseded": True}, by=by, now=now, expected_version=earlier.version
                )
        return records.create(
            Classification(
                injury=injury,
                site=injury.site,
                system=system,
                edition=EDITIONS[system],
                code=code,
                classified_by=opinion_of,
                classified_on=None if opinion_of is None else now.date(),
            ),
            by=by,
            now=now,
        )


def record_procedure(
    *,
    injury: Injury,
    values: Mapping[str, Any],
    construct: Mapping[str, Any] | None = None,
    departure_reasons: Mapping[str, str] | None = None,
    parts: Sequence[Mapping[str, Any]] = (),
    by: Person,
    now: datetime,
    today: date,
) -> Procedure:
    """Save an operation with what it left in place, note departures, and announce it.

    Raises BadInput when the date is impossible or the injury already has its index procedure.
    """
    procedure = Procedure(injury=injury, site=injury.site, **values)
    procedure_possible(procedure, today)
    if procedure.kind == ProcedureKind.FIXATION and _has_index(injury):
        raise BadInput(
            {"kind": "This injury already has its fixation; record a revision fixation instead."}
        )
    with records.change(by=by):
        records.create(procedure, by=by, now=now)
        if construct is not None:
            record_construct(
                procedure=procedure,
                values=construct,
                departure_reasons=departure_reasons or {},
                parts=parts,
                by=by,
                now=now,
            )
        notices.procedure_recorded.send(
            sender=Procedure, procedure=procedure, by=by, now=now, today=today
        )
    return procedure


def record_construct(
    *,
    procedure: Procedure,
    values: Mapping[str, Any],
    departure_reasons: Mapping[str, str],
    parts: Sequence[Mapping[str, Any]],
    by: Person,
    now: datetime,
) -> Construct:
    """Save a construct with its parts and the construct checks that it departs from."""
    with records.change(by=by):
        construct = records.create(
            Construct(procedure=procedure, site=procedure.site, **values), by=by, now=now
        )
        for part in parts:
            records.create(Part(construct=construct, site=procedure.site, **part), by=by, now=now)
        construct_checks.note_departures(
            construct=construct, reasons=departure_reasons, by=by, now=now
        )
    return construct


def complete_procedure(
    *,
    procedure: Procedure,
    values: Mapping[str, Any],
    departure_reasons: Mapping[str, str],
    parts: Sequence[implants.PartGiven],
    by: Person,
    now: datetime,
    today: date,
) -> Construct:
    """Save what an operation, recorded before, left in place, and announce that it is known now.

    Raises BadInput when the operation has its construct already.
    """
    if Construct.everything.filter(procedure=procedure).exists():
        raise BadInput("This operation has its construct already; correct it instead.")
    with records.change(by=by):
        construct = record_construct(
            procedure=procedure,
            values=values,
            departure_reasons=departure_reasons,
            parts=(),
            by=by,
            now=now,
        )
        if parts:
            implants.add_parts(
                construct=construct,
                given=parts,
                departure_reasons=departure_reasons,
                by=by,
                now=now,
            )
        notices.construct_recorded.send(
            sender=Construct, procedure=procedure, by=by, now=now, today=today
        )
    return construct


def procedure_possible(procedure: Procedure, today: date) -> None:
    """Refuse an operation in the future, after the death, or before the injury or what it revises."""
    injury = procedure.injury
    if procedure.revises_id is None and procedure.kind in REVISING:
        raise BadInput({"revises": "Name the earlier operation that this one revises or removes."})
    if procedure.revises is not None and procedure.revises.injury_id != injury.pk:
        raise BadInput({"revises": "That operation belongs to another injury."})
    if procedure.performed_on > today:
        raise BadInput({"performed_on": f"{procedure.performed_on} is in the future."})
    if procedure.performed_on < injury.injured_earliest:
        raise BadInput(
            {
                "performed_on": (
                    f"{procedure.performed_on} is before the injury "
                    f"({injury.injured_earliest}). Correct one of the two dates."
                )
            }
        )
    died_on = injury.patient.status_on if injury.patient.status == PatientStatus.DIED else None
    if died_on is not None and procedure.performed_on > died_on:
        raise BadInput(
            {
                "performed_on": (
                    f"{procedure.performed_on} is after the death ({died_on}). "
                    "Correct one of the two dates."
                )
            }
        )
    if procedure.revises is not None and procedure.performed_on < procedure.revises.performed_on:
        raise BadInput(
            {
                "performed_on": (
                    f"{procedure.performed_on} is before the operation that it revises "
                    f"({procedure.revises.performed_on})."
                )
            }
        )


def _has_index(injury: Injury) -> bool:
    operations = records.under(Procedure, injury=injury)
    return any(one.kind == ProcedureKind.FIXATION for one in operations)


def identifiers_free(site: Site, identifiers: Sequence[IdentifierGiven]) -> None:
    """Refuse a number that already belongs to a patient at the site."""
    for given in identifiers:
        if Identifier.objects.filter(
            site=site, issuing_system=given.issuing_system, value=given.value
        ).exists():
            raise BadInput(
                {
                    "identifier": (
                        f"{given.issuing_system} {given.value} already belongs to a patient here. "
                        "Open that patient and add the injury there."
                    )
                }
            )


def _birth_possible(identity: Mapping[str, Any], today: date) -> None:
    if identity["birth_earliest"] > today:
        raise BadInput({"birth_date": f"{identity['birth_earliest']} is in the future."})


def injury_possible(injury: Injury, identity: Identity | None, today: date) -> None:
    """Refuse an injury in the future or before the patient's birth."""
    if injury.injured_earliest > today:
        raise BadInput({"injury_date": f"{injury.injured_earliest} is in the future."})
    if identity is not None and injury.injured_latest < identity.birth_earliest:
        raise BadInput({"injury_date": "The injury is before the patient's birth."})


def age_at(identity: Identity, injury: Injury) -> int:
    """Return the completed years at the injury; of uncertain dates the latest possible ones."""
    born, hurt = identity.birth_latest, injury.injured_latest
    return max(0, hurt.year - born.year - ((hurt.month, hurt.day) < (born.month, born.day)))
