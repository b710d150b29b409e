"""Saving one case of a file through the services that the pages use, in the order in which it went."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import partial
from typing import Any

from django.db import DataError, IntegrityError

from followup.models.reviews import OPEN_STATES, Review
from followup.rules.case_columns.catalogue import BY_GROUP
from followup.rules.case_facts import LaterOperation, ParsedCase, PersonGiven, Visit
from followup.services import complications, visits
from followup.services.import_recorded import Likeness, Who
from followup.services.visits import FilmFound, VisitFindings
from registry.errors import BadInput, HoldfastError
from registry.models.constructs import ConstructType
from registry.models.injuries import Injury
from registry.models.patients import Patient
from registry.models.people import Person
from registry.models.procedures import Procedure, ProcedureKind
from registry.models.sites import Site
from registry.rules.construct_checks import CHECKS
from registry.selectors.people import surgeons_at
from registry.services import enrolment, gathering, patients, records
from registry.services.enrolment import IdentifierGiven

UNKNOWN_READER = "unknown-reader"
# The place of later operations within one day, after what was found on it.
LATER = {ProcedureKind.IMPLANT_REMOVAL: 2, ProcedureKind.REVISION_FIXATION: 3}


class RowRefused(Exception):
    """A service refused something of a row: (column, reason) for each refusal."""

    def __init__(self, reasons: list[tuple[str, str]]) -> None:
        """Keep the reasons."""
        self.reasons = reasons
        super().__init__("; ".join(reason for _, reason in reasons))


@dataclass
class Saving:
    """What saving the cases of one file needs, asked for once."""

    site: Site
    reader: Person
    by: Person
    now: datetime
    today: date
    types: Mapping[str, ConstructType]
    surgeons: Mapping[str, Person]
    patients: dict[str, Patient] = field(default_factory=dict)

    @property
    def act(self) -> dict[str, Any]:
        """Who, when and on which day: what every service asks for."""
        return {"by": self.by, "now": self.now, "today": self.today}


def saving_for(site: Site, *, by: Person, now: datetime, today: date) -> Saving:
    """Gather what saving the cases of a site needs."""
    return Saving(
        site=site,
        reader=unknown_reader(),
        by=by,
        now=now,
        today=today,
        types={one.code: one for one in ConstructType.objects.all()},
        surgeons={one.username: one for one in surgeons_at(site)},
    )


def unknown_reader() -> Person:
    """Return who read the films of a file, which does not say; nobody can sign in as this person.

    Not whoever imports: a reading belongs to who made it, and a second one supersedes the first.
    """
    return Person.objects.get_or_create(
        username=UNKNOWN_READER,
        defaults={"shown_name": "Reader not known", "is_active": False, "password": "!"},
    )[0]


@dataclass(frozen=True)
class Saved:
    """What one row added: its index procedure, whose it is, and what of the patient is new.

    `number` is the identifier that the row issued, None where the patient had it; `ended` says that a
    row that tells how follow-up ended has ended it, which may have been so before.
    """

    index: Procedure
    patient: Patient
    enrolled: bool
    number: int | None
    ended: bool = True


def save_case(case: ParsedCase, who: Who, given: Saving) -> Saved:
    """Save one case with everything its row tells.

    The caller gives the transaction. Raises RowRefused naming the columns that cannot be taken.
    """
    number = case.person.local_id
    known = who.patient or given.patients.get(number)
    with _blamed("person"):
        joined = None if known else _joined(who.joins, given)
        if joined is not None:
            patients.add_identifier(
                patient=joined,
                site=given.site,
                given=IdentifierGiven(enrolment.HOSPITAL_NUMBER, number),
                by=given.by,
            )
        whose = known or joined or _enrol(case.person, who, given)
    with _blamed("injury", "class"):
        injury = enrolment.record_injury(
            patient=whose, site=given.site, values=case.injury, classes=case.classes, **given.act
        )
    with _blamed("procedure", "construct"):
        index = _record_index(case, injury, given)
    _Course(index, given).run(case)
    given.patients[number] = whose
    issued = None if known else _identifier(whose, number, given)
    return Saved(index, whose, enrolled=not known and joined is None, number=issued)


def _joined(one: Likeness | None, given: Saving) -> Patient | None:
    """Return the patient who was said to be, or is likely to be, the same person."""
    if one is None:
        return None
    if one.other_patient is not None:
        return Patient.objects.filter(pk=one.other_patient, merged_into__isnull=True).first()
    return given.patients.get(one.other_number)


def _identifier(patient: Patient, number: str, given: Saving) -> int | None:
    return patients.number_of(
        patient=patient, site=given.site, given=IdentifierGiven(enrolment.HOSPITAL_NUMBER, number)
    )


@contextmanager
def _blamed(*groups: str) -> Iterator[None]:
    """Say in which column of the row stands what a service refuses."""
    try:
        yield
    except BadInput as fault:
        columns = {c.field: c.name for group in groups for c in BY_GROUP[group]}
        raise RowRefused(
            [(columns.get(name, ""), reason) for name, reason in fault.faults.items()]
        ) from fault
    except HoldfastError as fault:
        raise RowRefused([("", f"this cannot be saved: {fault}")]) from fault
    except (IntegrityError, DataError) as fault:
        told = f"this cannot be saved: {records.refusal_of(fault)}"
        raise RowRefused([("", told)]) from fault


def _enrol(person: PersonGiven, who: Who, given: Saving) -> Patient:
    others = (_joined(one, given) for one in who.different)
    return enrolment.enrol_patient(
        site=given.site,
        identity={
            "family_name": person.family_name,
            "given_name": person.given_name,
            "birth_earliest": person.birth.earliest,
            "birth_latest": person.birth.latest,
            "sex": person.sex,
            "phone": person.phone,
        },
        identifiers=[IdentifierGiven(enrolment.HOSPITAL_NUMBER, person.local_id)],
        different_from=[one for one in others if one is not None],
        # The part was weighed a moment ago: this number was nobody's.
        numbers_free=gathering.current() is not None,
        **given.act,
    )


def _record_index(case: ParsedCase, injury: Injury, given: Saving) -> Procedure:
    surgeon = given.surgeons[case.surgeon] if case.surgeon else None
    return enrolment.record_procedure(
        injury=injury,
        values={"kind": ProcedureKind.FIXATION, "surgeon": surgeon, **case.procedure},
        construct={"construct_type": given.types[case.construct_type], **case.construct},
        departure_reasons={check.id: case.departure_reason for check in CHECKS},
        **given.act,
    )


class _Course:
    """What happened after an operation, saved in the order of its days."""

    def __init__(self, index: Procedure, given: Saving) -> None:
        self._index = self._standing = index
        self._given = given
        self._reviews = _open_reviews(index)

    def run(self, case: ParsedCase) -> None:
        """Save visits, unwanted events and later operations.

        What was found on the day of a later operation was found before it.
        """
        events: list[tuple[date, int, Callable[[], None]]] = [
            *((one.visited_on, 0, partial(self._visit, one)) for one in case.visits),
            *(
                (one["detected_on"], 1, partial(self._complicate, one))
                for one in case.complications
            ),
            *(
                (one.performed_on, LATER[ProcedureKind(one.kind)], partial(self._operate, one))
                for one in case.later
            ),
        ]
        for _, _, save in sorted(events, key=lambda event: event[:2]):
            save()

    def _visit(self, visit: Visit) -> None:
        films = () if visit.film is None else (self._film(visit),)
        findings = VisitFindings(
            films=films,
            motion=(visit.motion,) if visit.motion else (),
            score_totals=visit.score_totals,
            not_obtainable=visit.not_obtainable,
        )
        review = self._review_of(visit)
        with _blamed("baseline" if visit.timepoint == "baseline" else f"f{visit.timepoint}"):
            if review is None:
                visits.save_findings(
                    procedure=self._standing,
                    findings=findings,
                    on=visit.visited_on,
                    **self._given.act,
                )
            else:
                self._reviews.remove(review)
                visits.save_visit(
                    review=review,
                    visited_on=visit.visited_on,
                    findings=findings,
                    expected_version=review.version,
                    **self._given.act,
                )

    def _film(self, visit: Visit) -> FilmFound:
        return FilmFound(visit.film or {}, visit.reading, self._given.reader)

    def _review_of(self, visit: Visit) -> Review | None:
        """Return the review that the file means, after a revision the one whose window holds the day."""
        if self._standing == self._index:
            for review in self._reviews:
                if visit.timepoint in (review.step.code, review.step.horizon):
                    return review
        for review in self._reviews:
            if review.opens_on <= visit.visited_on <= review.closes_on:
                return review
        return None

    def _complicate(self, event: Mapping[str, Any]) -> None:
        with _blamed("complication_1"):
            complications.record_complication(
                procedure=self._standing, values=event, **self._given.act
            )

    def _operate(self, later: LaterOperation) -> None:
        given = self._given
        removal = later.kind == ProcedureKind.IMPLANT_REMOVAL
        values: dict[str, Any] = {
            "kind": later.kind,
            "performed_on": later.performed_on,
            "revises": self._standing,
        }
        if removal:
            values["planned_removal"] = self._was_planned(later)
        construct = None
        if later.construct_type is not None:
            construct = {"construct_type": given.types[later.construct_type]}
        with _blamed("removal" if removal else "revision"):
            done = enrolment.record_procedure(
                injury=self._index.injury, values=values, construct=construct, **given.act
            )
        if not removal:
            self._standing, self._reviews = done, _open_reviews(done)

    def _was_planned(self, later: LaterOperation) -> bool:
        if later.planned is not None:
            return later.planned
        construct = getattr(self._standing, "construct", None)
        return construct is not None and construct.construct_type.planned_removal


def _open_reviews(procedure: Procedure) -> list[Review]:
    """Return the reviews that are open, on the one operation whose facts are in hand already."""
    rows = records.under(Review, "step", "site", procedure=procedure)
    there = [review for review in rows if review.state in OPEN_STATES]
    for review in there:
        review.procedure = procedure
    return sorted(there, key=lambda review: (review.due_on, review.pk))
