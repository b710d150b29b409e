"""What goes on paper: the list of a clinic day, and the sheet of those who are to be called."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time
from itertools import islice
from typing import Any

from django.db.models import QuerySet

from followup.models.calendars import Clinic
from followup.models.reviews import Appointment, AppointmentState, ReviewState
from followup.rules import requirements
from followup.selectors.due import DueFilter, due_list, with_details
from followup.selectors.due_lines import DueRow, lines
from followup.selectors.films_wanted import wants_film
from followup.selectors.visible import visible
from registry.models.patients import Patient
from registry.selectors.visible import Viewer

MOST_CALLS = 300


@dataclass(frozen=True)
class ClinicLine:
    """One visit of a clinic day, as a line on paper."""

    at: time
    patient: Patient
    name: str
    born: str
    side: str
    construct: str
    step: str
    film_first: bool
    collect: str


@dataclass(frozen=True)
class ClinicSheet:
    """One clinic on one day, with its visits in order of time."""

    clinic: Clinic
    lines: tuple[ClinicLine, ...]


@dataclass(frozen=True)
class CallSheet:
    """Whom to call today, most urgent first; and how many more there are than fit."""

    rows: tuple[DueRow, ...]
    cut_off: bool


def clinic_sheets(user: Viewer, day: date, clinic_id: int | None) -> list[ClinicSheet]:
    """Return the booked visits of a day by clinic; with a clinic, those of this one."""
    rows: QuerySet[Any] = visible(user, Appointment, "see_clinic").filter(
        on=day,
        state=AppointmentState.BOOKED,
        review__procedure__injury__patient__identity__isnull=False,
    )
    if clinic_id is not None:
        rows = rows.filter(clinic_id=clinic_id)
    rows = rows.annotate(wants_film=wants_film("review__")).select_related(
        "clinic__site",
        "clinic__surgeon",
        "review__step",
        "review__procedure__injury__patient__identity",
        "review__procedure__construct__construct_type",
    )
    by_clinic: dict[Clinic, list[ClinicLine]] = {}
    for slot in rows.order_by("clinic__name", "at", "id"):
        by_clinic.setdefault(slot.clinic, []).append(_clinic_line(slot))
    return [ClinicSheet(clinic, tuple(some)) for clinic, some in by_clinic.items()]


def call_sheet(user: Viewer, today: date, wanted: DueFilter) -> CallSheet:
    """Return those of the Due list who are to be tried today, by the policy of their site."""
    rows = with_details(due_list(user, today, wanted).rows.exclude(state=ReviewState.BOOKED))
    reviews = list(
        islice(rows[: MOST_CALLS + 1].iterator(chunk_size=MOST_CALLS + 1), MOST_CALLS + 1)
    )
    return CallSheet(
        tuple(row for row in lines(reviews[:MOST_CALLS], today) if _is_today(row, today)),
        len(reviews) > MOST_CALLS,
    )


def _is_today(row: DueRow, today: date) -> bool:
    return row.to_call and row.next_try.from_on is not None and row.next_try.from_on <= today


def _clinic_line(slot: Any) -> ClinicLine:
    procedure = slot.review.procedure
    identity = procedure.injury.patient.identity
    wanted = requirements.items(requirements.wanted_of(slot.review.step))
    exact = identity.birth_earliest == identity.birth_latest
    return ClinicLine(
        at=slot.at,
        patient=procedure.injury.patient,
        name=str(identity),
        born=f"{identity.birth_earliest:%d %b %Y}" if exact else f"{identity.birth_earliest:%Y}",
        side=procedure.injury.get_side_display().lower(),
        construct=str(procedure.construct) if hasattr(procedure, "construct") else "not recorded",
        step=slot.review.step.name,
        film_first=slot.wants_film,
        collect=_in_words(wanted),
    )


def _in_words(items: Sequence[str]) -> str:
    return ", ".join(requirements.words(item) for item in items) or "nothing named"
