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
from registry.services import enrolment

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


def save_case(case: ParsedCase, patient: Patient | None, given: Saving) -> Procedure:
    """Save one case with everything its row tells; return the index procedure.

    The caller gives the transaction. Raises RowRefused naming the columns that cannot be taken.
    """
    number = case.person.local_id
    with _blamed("person"):
        whose = patient or given.patients.get(number) or _enrol(case.person, given)
    with _blamed("injury", "class"):
        injury = enrolment.record_injury(
            patient=whose, site=given.site, values=case.injury, classes=case.classes, **given.act
        )
    with _blamed("procedure", "construct"):
        index = _record_index(case, injury, given)
    _Course(index, given).run(case)
    given.patients[number] = whose
    return index


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
    except (HoldfastError, IntegrityError, DataError) as fault:
        raise RowRefused([("", f"this cannot be saved: {fault}")]) from fault


def _enrol(person: PersonGiven, given: Saving) -> Patient:
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
        identifiers=[enrolment.IdentifierGiven(enrolment.HOSPITAL_NUMBER, person.local_id)],
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
    rows = list(
        Review.objects.filter(procedure=procedure, state__in=OPEN_STATES).select_related(
            "step", "site"
        )
    )
    for review in rows:
        review.procedure = procedure
    return rows
