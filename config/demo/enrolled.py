"""A simulated case as rows of the registry: who, what was hurt, what was done."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from analytics.simulation.records import SimCase, SimConstruct, SimLater
from config.demo import labelled
from config.demo.batch import Batch
from config.demo.bulk import new
from config.demo.staff import Staff
from registry.models import (
    Classification,
    Consent,
    Construct,
    ConstructDeparture,
    ConstructType,
    ImplantModel,
    Injury,
    Part,
    Patient,
    PatientSite,
    Person,
    Procedure,
    Site,
)
from registry.models.identities import Identifier, Identity
from registry.models.injuries import EDITIONS
from registry.rules.construct_checks import Verdict
from registry.services.construct_checks import results_of
from registry.services.enrolment import age_at


@dataclass
class Known:
    """What of the cases so far later ones point to: people by number, numbers given, articles."""

    patients: dict[int, Patient] = field(default_factory=dict)
    at_sites: set[tuple[int, int]] = field(default_factory=set)
    articles: dict[tuple[str, str, str], ImplantModel] = field(default_factory=dict)
    kinds: dict[str, ConstructType] = field(default_factory=dict)

    def kind(self, code: str) -> ConstructType:
        """Return the construct type of a code, read once."""
        if code not in self.kinds:
            self.kinds[code] = ConstructType.objects.get(code=code)
        return self.kinds[code]

    def article(self, kind: str, description: str, number: str) -> ImplantModel:
        """Return the implant model of a part, made where it is new."""
        key = (kind, description, number)
        if key not in self.articles:
            self.articles[key] = ImplantModel.objects.get_or_create(
                kind=kind,
                description=description,
                catalogue_number=number,
                defaults=labelled.article_of(kind, description, number),
            )[0]
        return self.articles[key]

    def forget_rows(self) -> None:
        """Keep of the patients that were written only what a later row needs."""
        self.patients = {number: Patient(pk=one.pk) for number, one in self.patients.items()}


@dataclass(frozen=True)
class Enrolled:
    """The rows of a case that the follow-up hangs on; later operations in their order."""

    site: Site
    surgeon: Person
    patient: Patient
    injury: Injury
    index: Procedure
    later: tuple[tuple[SimLater, Procedure], ...]


def enrol(batch: Batch, staff: Staff, known: Known, case: SimCase) -> Enrolled:
    """Add the rows of a case to a batch; somebody who was here before gets no second entry."""
    site, surgeon = staff.sites[case.site], staff.surgeon(case.site, case.surgeon)
    identity = new(
        Identity,
        **case.identity,
        sort_name=f"{case.identity['family_name']} {case.identity['given_name']}".casefold(),
    )
    patient = _patient(batch, staff, known, case, identity)
    _consents(batch, staff, case, patient)
    injury = new(Injury, patient=patient, **_plain(case.injury), sex=case.identity["sex"])
    injury.age_years = age_at(identity, injury)
    batch.fact(injury, site=site, by=staff.coordinator, on=case.performed_on)
    for system, code in case.classes.items():
        opinion = new(
            Classification,
            injury=injury,
            system=system,
            edition=EDITIONS[system],
            code=code,
            classified_on=injury.injured_latest,
            classified_by=surgeon,
        )
        batch.fact(opinion, site=site, by=surgeon, on=case.performed_on)
    index = new(Procedure, injury=injury, kind="fixation", surgeon=surgeon, **case.operation)
    batch.fact(index, site=site, by=surgeon, on=case.performed_on)
    _construct(batch, known, index, case.construct)
    later = tuple((one, _later(batch, known, index, one)) for one in case.later)
    return Enrolled(site, surgeon, patient, injury, index, later)


def _patient(
    batch: Batch, staff: Staff, known: Known, case: SimCase, identity: Identity
) -> Patient:
    site = staff.sites[case.site]
    patient = None if case.typed_again else known.patients.get(case.person)
    if patient is None:
        patient = new(Patient, status=case.status, status_on=case.status_on)
        batch.fact(patient, site=site, by=staff.coordinator, on=case.performed_on)
        identity.patient = patient
        batch.add(identity)
        known.patients.setdefault(case.person, patient)
    elif (case.person, case.site) in known.at_sites:
        return patient
    known.at_sites.add((case.person, case.site))
    batch.add(new(PatientSite, patient=patient, site=site))
    for system, value in case.identifiers:
        batch.add(new(Identifier, patient=patient, site=site, issuing_system=system, value=value))
    return patient


def _consents(batch: Batch, staff: Staff, case: SimCase, patient: Patient) -> None:
    for one in case.consents:
        row = new(
            Consent,
            patient=patient,
            purpose=one.purpose,
            decision=one.decision,
            decided_on=one.decided_on,
            basis=one.basis,
        )
        batch.fact(row, site=staff.sites[case.site], by=staff.coordinator, on=one.decided_on)


def _later(batch: Batch, known: Known, index: Procedure, one: SimLater) -> Procedure:
    row = new(
        Procedure,
        injury=index.injury,
        kind=one.kind,
        surgeon=index.surgeon,
        planned_removal=one.planned,
        revises=index if one.kind in ("revision_fixation", "implant_removal") else None,
        **one.operation,
    )
    batch.fact(row, site=index.site, by=index.recorded_by, on=one.on)
    if one.construct is not None:
        _construct(batch, known, row, one.construct)
    else:
        # Known to have none, so that nobody asks the database.
        row._state.fields_cache["construct"] = None
    return row


def _construct(batch: Batch, known: Known, procedure: Procedure, one: SimConstruct) -> None:
    site, by, on = procedure.site, procedure.recorded_by, procedure.performed_on
    row = new(
        Construct,
        procedure=procedure,
        construct_type=known.kind(one.construct_type),
        **_plain(one.values),
    )
    batch.fact(row, site=site, by=by, on=on)
    for result in results_of(row, procedure):
        if result.verdict == Verdict.DEPARTURE:
            departure = new(
                ConstructDeparture,
                construct=row,
                check_id=result.id,
                check_version=result.version,
                found=result.found,
                reason=one.departure_reason,
            )
            batch.fact(departure, site=site, by=by, on=on)
    for part in one.parts:
        article = known.article(part.kind, part.description, part.catalogue_number)
        piece = new(
            Part,
            construct=row,
            implant_model=article,
            raw_identifier=labelled.label_of(
                part.kind, article.device_identifier, part.batch, part.serial, part.expires_on
            ),
            quantity=part.quantity,
            batch=part.batch,
            serial=part.serial,
            expires_on=part.expires_on,
            batch_not_obtainable=part.batch_not_obtainable,
        )
        batch.fact(piece, site=site, by=by, on=on)


def _plain(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: decimal(v) if isinstance(v, float) else v for name, v in values.items()}


def decimal(value: float | None) -> Decimal | None:
    """Return a length or a total as the database keeps it."""
    return None if value is None else Decimal(str(value))
