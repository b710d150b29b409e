"""The list of one clinic day, and what a visit shows of before."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet

from followup.models.complications import Complication
from followup.models.films import Film, Reading
from followup.models.hardware import HardwareDecision
from followup.models.motion import MotionExam
from followup.models.reviews import Appointment, AppointmentState, Review
from followup.models.scores import Score
from followup.rules.scores.catalogue import INSTRUMENTS, Instrument
from followup.selectors.films_wanted import wants_film
from followup.selectors.findings import current_readings
from followup.selectors.visible import visible
from registry.models.injuries import Injury
from registry.models.people import Person
from registry.models.procedures import Procedure, ProcedureKind
from registry.rules.units import side_ratio_pct
from registry.selectors.visible import Viewer

SHOWN = (AppointmentState.BOOKED, AppointmentState.KEPT, AppointmentState.MISSED)


@dataclass(frozen=True)
class FilmLine:
    """One film with its latest readings, as a visit shows it."""

    film: Film
    readings: tuple[Reading, ...]
    change_mm: float | None
    ratio_pct: float | None


@dataclass(frozen=True)
class Earlier:
    """Everything that was found before today, oldest first."""

    films: tuple[FilmLine, ...]
    motion: tuple[MotionExam, ...]
    scores: tuple[tuple[Instrument, tuple[Score, ...]], ...]
    complications: tuple[Complication, ...]
    decisions: tuple[HardwareDecision, ...]
    procedures: tuple[Procedure, ...]


def appointments_on(user: Viewer, day: date, surgeon: Person | None) -> "QuerySet[Any]":
    """Return the visits of a day that a person may see, by time; with a surgeon, theirs only."""
    rows: QuerySet[Any] = (
        visible(user, Appointment, "see_clinic")
        .filter(on=day, state__in=SHOWN)
        .annotate(wants_film=wants_film("review__"))
        .select_related(
            "clinic",
            "surgeon",
            "review__step",
            "review__procedure__injury__patient__identity",
            "review__procedure__construct__construct_type",
        )
    )
    if surgeon is not None:
        rows = rows.filter(surgeon=surgeon)
    return rows.order_by("at", "id")


def earlier_of(injury: Injury) -> Earlier:
    """Return what is known of an injury's course, in nine queries."""
    rows = Film.objects.filter(injury=injury).select_related("site__union_rule")
    films = list(rows.prefetch_related(current_readings(), "images"))
    scores: dict[str, list[Score]] = {}
    for score in Score.objects.filter(injury=injury):
        scores.setdefault(score.instrument, []).append(score)
    procedures = list(
        Procedure.objects.filter(injury=injury).select_related(
            "construct__construct_type", "surgeon"
        )
    )
    return Earlier(
        films=tuple(_film_lines(films, _fixed_on(procedures))),
        motion=tuple(MotionExam.objects.filter(injury=injury)),
        scores=tuple((INSTRUMENTS[code], tuple(rows)) for code, rows in scores.items()),
        complications=tuple(Complication.objects.filter(procedure__injury=injury)),
        decisions=tuple(HardwareDecision.objects.filter(procedure__injury=injury)),
        procedures=tuple(procedures),
    )


def last_values(earlier: Earlier, side: str) -> dict[str, str]:
    """Return what was found last time by form field, to be shown beside it and never saved."""
    return {
        **_last_motion(earlier.motion, side),
        **_last_scores(earlier.scores),
        **_last_readings(earlier.films),
    }


def _last_motion(exams: tuple[MotionExam, ...], side: str) -> dict[str, str]:
    shown = {}
    for exam in (one for one in exams if one.mode == "active"):
        prefix = "" if exam.side == side else "other_"
        for name in ("flexion_deg", "abduction_deg", "external_rotation_deg"):
            value = getattr(exam, name)
            if value is not None:
                shown[prefix + name] = f"{value} on {exam.examined_on:%d %b %Y}"
    return shown


def _last_scores(scores: tuple[tuple[Instrument, tuple[Score, ...]], ...]) -> dict[str, str]:
    newest = [rows[-1] for _, rows in scores]
    return {
        row.instrument: f"{float(row.value):g} on {row.taken_on:%d %b %Y}"
        for row in newest
        if row.value is not None
    }


def _last_readings(films: tuple[FilmLine, ...]) -> dict[str, str]:
    shown = {}
    for line in films:
        on = f"on {line.film.taken_on:%d %b %Y}"
        for reading in line.readings:
            for name in ("ccd_injured_mm", "ccd_other_mm"):
                value = getattr(reading, name)
                if value is not None:
                    shown[name] = f"{value} {on}"
            shown["union"] = f"{reading.get_union_display()} {on}"
    return shown


def open_review(user: Viewer, review_id: int) -> Any:
    """Return a visible review with what its visit page shows; None when it is not there.

    An erased patient has no page: nothing is left that says who it was.
    """
    return (
        visible(user, Review, "see_clinic")
        .select_related(
            "step",
            "site",
            "procedure__surgeon",
            "procedure__injury__patient__identity",
            "procedure__construct__construct_type",
        )
        .prefetch_related("procedure__construct__departures", "appointments")
        .filter(pk=review_id, procedure__injury__patient__identity__isnull=False)
        .first()
    )


def _fixed_on(procedures: list[Procedure]) -> date | None:
    days = [one.performed_on for one in procedures if one.kind == ProcedureKind.FIXATION]
    return min(days, default=None)


def _film_lines(films: list[Film], fixed_on: date | None) -> list[FilmLine]:
    """Give each film its change against the first measured one of its view after the fixation."""
    first: dict[str, float] = {}
    lines = []
    for film in films:
        readings = tuple(film.readings.all())
        lengths = [float(r.ccd_injured_mm) for r in readings if r.ccd_injured_mm is not None]
        change = None
        if lengths and fixed_on is not None and film.taken_on >= fixed_on:
            mean = sum(lengths) / len(lengths)
            change = mean - first.setdefault(film.view, mean)
        lines.append(FilmLine(film, readings, change, _ratio(readings)))
    return lines


def _ratio(readings: tuple[Reading, ...]) -> float | None:
    for reading in readings:
        if reading.ccd_injured_mm is not None and reading.ccd_other_mm is not None:
            return side_ratio_pct(float(reading.ccd_injured_mm), float(reading.ccd_other_mm))
        if reading.ccd_side_ratio_pct is not None:
            return float(reading.ccd_side_ratio_pct)
    return None
