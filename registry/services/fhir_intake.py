"""Taking in a FHIR transaction: the checks of a form, all or nothing, and the same sent twice once."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet

from registry.errors import BadInput, StaleVersion
from registry.exchange.fhir import standing, transactions
from registry.exchange.fhir.arrivals import InjuryCame, OperationCame, PatientCame
from registry.exchange.fhir.labelled import PartCame
from registry.exchange.fhir.transactions import ORDER, Entry
from registry.models.constructs import ConstructType, Part
from registry.models.injuries import Injury
from registry.models.patients import Patient, PatientStatus
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.models.sites import Site
from registry.rules.fhir.outcomes import Issue, Refused, error, warning
from registry.selectors import fhir_known
from registry.selectors.people import surgeons_at
from registry.selectors.visible import require, visible
from registry.services import (
    enrolment,
    fhir_corrections,
    foreign_numbers,
    implants,
    patients,
    records,
)
from registry.services.fhir_landing import (
    ELEMENTS,
    Landed,
    Landing,
    Stands,
    as_the_site_says,
    flags_of,
    refers,
)

COLUMN_OF = {"Condition": "injury", "Procedure": "procedure", "Device": "part"}


def take_in(bundle: Any, *, by: Person, now: datetime, today: date, base: str = "") -> list[Landed]:
    """Take in a transaction and return what became of each entry, in its order.

    `base` is the address of this server. What is known by its number already stays as it is; with PUT and the version that was seen it is
    corrected. Raises Refused with all that is wrong, and nothing is saved then.
    """
    require(by, "enrol")
    entries = transactions.read(bundle, today=today)
    with records.change(by=by, reason="FHIR transaction"):
        landing = Landing(by, now, today, _site(entries, by), base)
        # One after the other at a site: the same sent twice at once lands once.
        Site.objects.select_for_update(no_key=True).get(pk=landing.site.pk)
        for kind in ORDER:
            for place, entry in enumerate(entries):
                if entry.kind == kind:
                    _land(landing, place, entry)
        _deaths(landing, entries)
        if landing.issues:
            raise Refused(landing.issues, _status(landing.issues))
    return [landing.landed[place] for place in range(len(entries))]


def _status(issues: Sequence[Issue]) -> int:
    codes = {one.code for one in issues}
    return 409 if codes <= {"duplicate", "conflict"} else 400


def _site(entries: Sequence[Entry], by: Person) -> Site:
    mine: QuerySet[Site] = visible(by, Site, "enrol")
    named = {
        one.came.site: one for one in entries if isinstance(one.came, PatientCame) and one.came.site
    }
    if len(named) > 1:
        told = f"A transaction is of one site; this one names {', '.join(sorted(named))}."
        raise Refused([error("value", told, "Bundle.entry")])
    for code, entry in named.items():
        site = mine.filter(code=code).first()
        if site is None:
            told = f"There is no site '{code}' where you enrol patients."
            path = f"{entry.path}.resource.managingOrganization"
            raise Refused([error("value", told, path)])
        return site
    sites = list(mine[:2])
    if len(sites) == 1:
        return sites[0]
    told = "You enrol at several sites: name this one, as Patient.managingOrganization.identifier."
    raise Refused([error("required", told, "Bundle.entry")])


def _land(landing: Landing, place: int, entry: Entry) -> None:
    act: Callable[[Landing, Entry], Landed] = {
        "Patient": _patient,
        "Condition": _injury,
        "Procedure": _operation,
        "Device": _part,
    }[entry.kind]
    before = len(landing.issues)
    try:
        with records.change(by=landing.by):
            found = act(landing, entry)
    except Stands:
        landing.fallen.add(entry.full_url)
        return
    except BadInput as fault:
        for column, words in fault.faults.items():
            below = ELEMENTS[entry.kind].get(column, "")
            landing.wrong(entry, "business-rule", words if below else f"{column}: {words}", below)
    except StaleVersion as fault:
        landing.wrong(entry, "conflict", str(fault), "meta.versionId")
    if len(landing.issues) > before:
        landing.fallen.add(entry.full_url)
        return
    landing.landed[place] = found
    if entry.full_url:
        landing.by_url[entry.full_url] = found
    if isinstance(entry.came, OperationCame):
        for reference in entry.came.implanted:
            landing.operation_of[transactions.resolved(entry, reference)] = found


def _patient(landing: Landing, entry: Entry) -> Landed:
    came = entry.came
    assert isinstance(came, PatientCame)  # noqa: S101 - by the kind of the entry
    numbers = as_the_site_says(landing.site, came.numbers)
    found = fhir_known.patients_numbered(landing.site, numbers)
    if len(found) > 1:
        told = f"These numbers are of {len(found)} patients; merge them, or mend the numbers."
        landing.wrong(entry, "conflict", told, "identifier")
        raise Stands
    if found:
        row = found[0]
        if not visible(landing.by, Patient, "enrol").filter(pk=row.pk).exists():
            landing.wrong(entry, "forbidden", "This patient is not yours to see.", "identifier")
            raise Stands
        return _known(landing, entry, row, {**came.identity, "died_on": came.died_on})
    others = list(visible(landing.by, Patient, "enrol").filter(key__in=came.different_from))
    alike = fhir_known.alike(landing.by, came.identity, numbers, leave_out=others)
    if alike:
        keys = ", ".join(f"{one.patient.key} ({one.because})" for one in alike)
        told = (
            f"Patients alike are here already: {keys}. Give this number to one of them, or name "
            "each by the extension different-from."
        )
        landing.wrong(entry, "duplicate", told)
        raise Stands
    row = enrolment.enrol_patient(
        site=landing.site,
        identity=came.identity,
        identifiers=[enrolment.IdentifierGiven(*number) for number in numbers],
        different_from=others,
        by=landing.by,
        now=landing.now,
        today=landing.today,
    )
    return Landed(entry, row, created=True)


def _injury(landing: Landing, entry: Entry) -> Landed:
    came = entry.came
    assert isinstance(came, InjuryCame)  # noqa: S101 - by the kind of the entry
    row = fhir_known.row_numbered(landing.site, entry.kind, came.numbers)
    if row is not None:
        _same_patient(landing, entry, row.patient_id)
        classes = fhir_corrections.beside(fhir_corrections.CLASS, came.classes)
        return _known(landing, entry, row, {**came.values, **classes})
    whose = refers(landing, entry, came.subject, "Patient", "subject")
    ages = fhir_known.age_at(whose, came.values["injured_latest"])
    flags = flags_of({**came.values, **ages}, checked=came.checked)
    row = enrolment.record_injury(
        patient=whose,
        site=landing.site,
        values={**came.values, "flags": flags},
        classes=came.classes,
        by=landing.by,
        now=landing.now,
        today=landing.today,
    )
    return _numbered(landing, entry, row)


def _operation(landing: Landing, entry: Entry) -> Landed:
    came = entry.came
    assert isinstance(came, OperationCame)  # noqa: S101 - by the kind of the entry
    row = fhir_known.row_numbered(landing.site, entry.kind, came.numbers)
    if row is not None:
        return _known_operation(landing, entry, came, row)
    hurt = refers(landing, entry, came.injury, "Condition", "reasonReference[0]")
    if came.subject:
        whose = refers(landing, entry, came.subject, "Patient", "subject")
        if whose.pk != hurt.patient_id:
            landing.wrong(entry, "conflict", "The injury is of another patient.", "subject")
    values = _of_injury(landing, entry, came, hurt)
    construct = _construct(landing, entry, came)
    values["flags"] = flags_of({**values, **fhir_known.delay(hurt, values)}, checked=came.checked)
    row = enrolment.record_procedure(
        injury=hurt,
        values=values,
        construct=construct,
        by=landing.by,
        now=landing.now,
        today=landing.today,
    )
    return _numbered(landing, entry, row)


def _of_injury(landing: Landing, entry: Entry, came: OperationCame, hurt: Injury) -> dict[str, Any]:
    """Return an operation's values with what it revises and its surgeon; its side is its injury's."""
    if came.side and came.side != hurt.side:
        told = f"The injury is of the {hurt.side} side, and this of the {came.side}."
        landing.wrong(entry, "conflict", told, "bodySite[0]")
    before = None
    if came.revises:
        before = refers(landing, entry, came.revises, "Procedure", "partOf[0]")
    return {**came.values, "revises": before, "surgeon": _surgeon(landing, entry, came.surgeon)}


def _known_operation(landing: Landing, entry: Entry, came: OperationCame, row: Procedure) -> Landed:
    hurt = refers(landing, entry, came.injury, "Condition", "reasonReference[0]")
    if hurt.pk != row.injury_id:
        told = f"By this number here is operation {row.pk}, of another injury; it was not moved."
        landing.wrong(entry, "conflict", told, "reasonReference[0]")
        raise Stands
    _same_patient(landing, entry, row.injury.patient_id)
    values = _of_injury(landing, entry, came, row.injury)
    built = {"construct_type": came.construct_type, **came.construct}
    built = fhir_corrections.beside(fhir_corrections.CONSTRUCT, built)
    return _known(landing, entry, row, {**values, **built})


def _known_part(landing: Landing, entry: Entry, came: PartCame, row: Part) -> Landed:
    here = row.construct.procedure
    operation = landing.operation_of.get(entry.full_url)
    if operation is not None and operation.row.pk != here.pk:
        told = (
            f"By this number here is a part of operation {here.pk}, not of the one that names it."
        )
        landing.wrong(entry, "conflict", told, "identifier")
        raise Stands
    _same_patient(landing, entry, here.injury.patient_id, "patient")
    return _known(landing, entry, row, came.values)


def _same_patient(
    landing: Landing, entry: Entry, patient_id: int, element: str = "subject"
) -> None:
    """Refuse what is known by its number and comes as somebody else's."""
    came = entry.came
    assert isinstance(came, InjuryCame | OperationCame | PartCame)  # noqa: S101 - by their entries
    if not came.subject:
        return
    whose = refers(landing, entry, came.subject, "Patient", element)
    if whose.pk != patient_id:
        told = f"By this number here is a {entry.kind} of another patient; it was not moved."
        landing.wrong(entry, "conflict", told, element)
        raise Stands


def _part(landing: Landing, entry: Entry) -> Landed:
    came = entry.came
    assert isinstance(came, PartCame)  # noqa: S101 - by the kind of the entry
    row = fhir_known.row_numbered(landing.site, entry.kind, came.numbers)
    if row is not None:
        return _known_part(landing, entry, came, row)
    operation = landing.operation_of.get(entry.full_url)
    if operation is None:
        if landing.fallen:
            raise Stands
        told = "No operation of this transaction names it as implanted, in Procedure.focalDevice."
        landing.wrong(entry, "required", told)
        raise Stands
    if came.subject:
        whose = refers(landing, entry, came.subject, "Patient", "patient")
        if whose.pk != operation.row.injury.patient_id:
            landing.wrong(entry, "conflict", "The operation is of another patient.", "patient")
    if not hasattr(operation.row, "construct"):
        told = "Its operation is here already, and without a construct: complete that one first."
        landing.wrong(entry, "business-rule", told)
        raise Stands
    row = implants.add_part(
        construct=operation.row.construct,
        given=implants.PartGiven(**came.values),
        by=landing.by,
        now=landing.now,
    )
    path = f"{entry.path}.resource"
    entry.warnings += [warning("business-rule", told["words"], path) for told in row.warnings]
    return _numbered(landing, entry, row)


def _known(landing: Landing, entry: Entry, row: Any, values: Mapping[str, Any]) -> Landed:
    """Leave what is known by its number as it is, or correct it over the version that was seen."""
    if row.voided_at is not None:
        told = "This was voided here, and does not come back; give it a new number if it is right."
        landing.wrong(entry, "conflict", told, "identifier")
        raise Stands
    differing = fhir_corrections.differing(entry.kind, row, values)
    if not differing:
        return Landed(entry, row)
    if not entry.updates:
        told = f"It is here already, and differs in {', '.join(differing)}; it was left as it is."
        entry.warnings.append(warning("business-rule", told, f"{entry.path}.resource"))
        return Landed(entry, row)
    if not entry.wanted_version:
        told = f"It differs in {', '.join(differing)}: name the version that you saw, as ifMatch."
        landing.wrong(entry, "conflict", told)
        raise Stands
    now = standing.version_of(entry.kind, row, landing.by)
    if now != entry.wanted_version:
        told = (
            f"You saw version {entry.wanted_version}, and it is {now} now: read it and send again."
        )
        landing.wrong(entry, "conflict", told)
        raise Stands
    fhir_corrections.correct(
        kind=entry.kind,
        row=row,
        values={name: values[name] for name in differing},
        by=landing.by,
        now=landing.now,
        today=landing.today,
    )
    return Landed(entry, row, corrected=True)


def _numbered(landing: Landing, entry: Entry, row: Any) -> Landed:
    foreign_numbers.keep(
        site=landing.site,
        column=COLUMN_OF[entry.kind],
        row=row,
        numbers=entry.came.numbers,
        now=landing.now,
    )
    return Landed(entry, row, created=True)


def _surgeon(landing: Landing, entry: Entry, username: str) -> Person | None:
    if not username:
        return None
    found: Person | None = surgeons_at(landing.site).filter(username=username).first()
    if found is None:
        told = f"'{username}' is no surgeon of this site; leave it out for others."
        landing.wrong(entry, "value", told, "performer[0].actor")
    return found


def _construct(landing: Landing, entry: Entry, came: OperationCame) -> dict[str, Any] | None:
    if not came.construct_type:
        return None
    kind = ConstructType.objects.filter(code=came.construct_type, is_active=True).first()
    if kind is None:
        known = ", ".join(
            ConstructType.objects.filter(is_active=True).values_list("code", flat=True)
        )
        told = f"'{came.construct_type}' is no construct type in use; there are {known}."
        landing.wrong(entry, "code-invalid", told, "usedCode[0]")
        raise Stands
    flags = flags_of(came.construct, checked=came.checked)
    return {**came.construct, "construct_type": kind, "flags": flags}


def _deaths(landing: Landing, entries: Sequence[Entry]) -> None:
    """Record who died, after everything else: an operation cannot follow a death."""
    for place, entry in enumerate(entries):
        found = landing.landed.get(place)
        if found is None or not isinstance(entry.came, PatientCame) or not entry.came.died_on:
            continue
        if not (found.created or found.corrected):
            # Known already and not corrected: what differs was told, and stays as it is.
            continue
        row: Patient = found.row
        row.refresh_from_db()
        if (row.status, row.status_on) == (PatientStatus.DIED, entry.came.died_on):
            continue
        try:
            patients.change_status(
                patient=row,
                status=PatientStatus.DIED,
                on=entry.came.died_on,
                note="told by FHIR",
                expected_version=row.version,
                by=landing.by,
                now=landing.now,
                today=landing.today,
            )
        except BadInput as fault:
            landing.wrong(entry, "business-rule", str(fault), "deceasedDateTime")
