"""One patient's course on one line: what happened, what is ahead, and what is missing."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import F
from django.utils import timezone

from followup.models.complications import Complication
from followup.models.contacts import ContactAttempt
from followup.models.films import Film
from followup.models.hardware import HardwareDecision
from followup.models.motion import MotionExam
from followup.models.reviews import Review, ReviewState
from followup.models.scores import Score, ScoreMode
from followup.rules import requirements
from followup.rules.milestones import Assessment
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.selectors import answers, milestones
from followup.selectors.findings import current_readings, lines_of
from followup.selectors.visible import visible
from registry.models.constructs import Construct
from registry.models.injuries import Injury
from registry.models.patients import Patient
from registry.models.procedures import Procedure, ProcedureKind
from registry.rules.construct_words import in_words
from registry.selectors.visible import Viewer


@dataclass(frozen=True)
class Entry:
    """One thing on the line; `kind` is past, gap (missing) or ahead."""

    on: date
    title: str
    details: tuple[str, ...] = ()
    kind: str = "past"
    link: tuple[str, int] | None = None


@dataclass(frozen=True)
class Course:
    """One injury with its entries in order, and what its closed reviews lack.

    `index_id` is its first fixation, the case that figures count; None where there is none yet.
    `operations` are all that stand on it.
    """

    injury: Injury
    entries: tuple[Entry, ...]
    lacking: tuple[str, ...] = field(default_factory=tuple)
    index_id: int | None = None
    operations: tuple[Procedure, ...] = ()


def courses(user: Viewer, patient: Patient, today: date) -> list[Course]:
    """Return the courses of a patient's injuries that a person may see; twelve queries."""
    injuries = list(
        visible(user, Injury).filter(patient=patient).prefetch_related("classifications")
    )
    by_injury: dict[int, list[Entry]] = {injury.pk: [_injured(injury)] for injury in injuries}
    lacking: dict[int, list[str]] = {injury.pk: [] for injury in injuries}
    films = _films(user, by_injury)
    found = {
        "films": films,
        "motion": list(visible(user, MotionExam).filter(injury__in=by_injury)),
        "scores": list(visible(user, Score).filter(injury__in=by_injury)),
        "complications": list(
            visible(user, Complication)
            .filter(procedure__injury__in=by_injury)
            .annotate(injury_id=F("procedure__injury_id"))
        ),
    }
    procedures = _procedures(user, by_injury)
    index = {row.injury_id: row.pk for row in procedures if row.kind == ProcedureKind.FIXATION}
    _add(by_injury, _operations(procedures))
    _add(by_injury, ((one.injury_id, _complication(one)) for one in found["complications"]))
    _add(by_injury, ((film.injury_id, _film(film)) for film in films))
    reviews = _reviews(user, by_injury)
    _add(by_injury, _exams(injuries, found["motion"], reviews))
    _add(by_injury, ((score.injury_id, _score(score)) for score in found["scores"]))
    _add(by_injury, _events(user, by_injury))
    _add(
        by_injury, ((one.injury_id, _answered(one)) for one in answers.of_injuries(user, by_injury))
    )
    for review in reviews:
        injury_id = review.procedure.injury_id
        missing = _missing(review, found, injury_id)
        by_injury[injury_id].append(_review(review, missing, today))
        if missing and review.state in (ReviewState.ATTENDED, ReviewState.LAPSED):
            lacking[injury_id].append(f"{review.step}: {', '.join(missing)}")
    return [
        Course(
            injury,
            tuple(sorted(by_injury[injury.pk], key=lambda entry: entry.on)),
            tuple(lacking[injury.pk]),
            index.get(injury.pk),
            tuple(row for row in procedures if row.injury_id == injury.pk),
        )
        for injury in injuries
    ]


def _add(by_injury: dict[int, list[Entry]], entries: Iterable[tuple[int, Entry]]) -> None:
    for injury_id, entry in entries:
        by_injury[injury_id].append(entry)


def _injured(injury: Injury) -> Entry:
    classes = ", ".join(str(row) for row in injury.classifications.all() if not row.superseded)
    bounds = "" if injury.date_is_exact else f"date known only to lie up to {injury.injured_latest}"
    title = f"{injury.get_kind_display()}, {injury.get_side_display().lower()}"
    details = (classes or "not classified", bounds, injury.get_mechanism_display())
    return Entry(
        injury.injured_earliest,
        title,
        tuple(part for part in details if part),
        link=("injury-correct", injury.pk),
    )


def _procedures(user: Viewer, injuries: Iterable[int]) -> "list[Any]":
    rows = visible(user, Procedure).filter(injury__in=injuries)
    rows = rows.select_related("construct__construct_type", "surgeon")
    return list(rows.prefetch_related("construct__departures"))


def _operations(procedures: "list[Any]") -> Iterable[tuple[int, Entry]]:
    for row in procedures:
        construct = getattr(row, "construct", None)
        details = [one for one in _built(construct) if one]
        if row.surgeon is not None:
            details.append(str(row.surgeon))
        if construct is not None:
            details += [
                f"Departure: {one.found}; reason: {one.reason or 'not given'}"
                for one in construct.departures.all()
            ]
        link = ("procedure-correct", row.pk)
        title = row.get_kind_display()
        yield row.injury_id, Entry(row.performed_on, title, tuple(details), link=link)


def _built(construct: Construct | None) -> tuple[str, ...]:
    return () if construct is None else (str(construct), in_words(construct))


def _complication(event: Complication) -> Entry:
    ended = f"resolved {event.resolved_on}" if event.resolved_on else "not resolved"
    details = (event.get_grade_display(), event.action, ended)
    return Entry(
        event.detected_on,
        f"Complication: {event}",
        tuple(part for part in details if part),
    )


def _films(user: Viewer, injuries: Iterable[int]) -> list[Film]:
    rows = visible(user, Film).filter(injury__in=injuries).select_related("site__union_rule")
    return list(rows.prefetch_related(current_readings()))


def _film(film: Film) -> Entry:
    title, told = f"{film.get_view_display()} film", lines_of(film) or ("not read yet",)
    return Entry(film.taken_on, title, told, link=("film-correct", film.pk))


def _exams(
    injuries: Iterable[Injury], exams: list[MotionExam], reviews: list[Any]
) -> Iterable[tuple[int, Entry]]:
    """Let each exam of the injured side say which milestones it is behind, and which limit it passed."""
    for injury in injuries:
        own = [exam for exam in exams if exam.injury_id == injury.pk]
        its = [review for review in reviews if review.procedure.injury_id == injury.pk]
        assessed = milestones.assessments(injury, own, its)
        for exam in own:
            # What a day's exams say together stands with the first of them.
            told = assessed.pop(exam.examined_on, ()) if exam.side == injury.side else ()
            yield injury.pk, _motion(exam, [one for one in told if one.needs_attention])


def _motion(exam: MotionExam, behind: list[Assessment]) -> Entry:
    angles = (
        ("flexion", exam.flexion_deg),
        ("abduction", exam.abduction_deg),
        ("external rotation", exam.external_rotation_deg),
    )
    words = ", ".join(f"{name} {value} degrees" for name, value in angles if value is not None)
    title = f"{exam.get_mode_display()} motion, {exam.get_side_display().lower()}"
    told = tuple(one.sentence for one in behind)
    return Entry(exam.examined_on, title, ((words,) if words else ()) + told)


def _score(score: Score) -> Entry:
    name = INSTRUMENTS[score.instrument].name
    value = f"{float(score.value):g}" if score.value is not None else score.not_computable_reason
    details = []
    if score.relative_pct is not None:
        share = f"{float(score.relative_pct):g}% of the norm for age and sex ({score.relative_to})"
        details.append(share)
    if score.mode != ScoreMode.CLINIC:
        details.append(score.get_mode_display().lower())
    return Entry(score.taken_on, f"{name}: {value}", tuple(details))


def _answered(one: answers.Answered) -> Entry:
    unfinished = () if one.finished else ("not sent off",)
    alarm = (f"alarming: {', '.join(one.alarming)}",) if one.alarming else ()
    details = (*alarm, "; ".join(one.lines), *unfinished)
    return Entry(one.on, f"Answered at home: {one.step}", tuple(part for part in details if part))


def _events(user: Viewer, injuries: Iterable[int]) -> Iterable[tuple[int, Entry]]:
    for row in (
        visible(user, HardwareDecision)
        .filter(procedure__injury__in=injuries)
        .select_related("procedure")
    ):
        on = row.decided_on or row.raised_on
        details = tuple(part for part in (row.get_raised_because_display(), row.reason) if part)
        link = ("hardware-decide", row.pk)
        title = f"Hardware: {row.get_state_display()}"
        yield row.procedure.injury_id, Entry(on, title, details, link=link)
    tries = visible(user, ContactAttempt).filter(review__procedure__injury__in=injuries)
    for row in tries.select_related("review__procedure"):
        # Turns an instant into a date; the clock is not read.
        on = timezone.localdate(row.tried_at)  # noqa: TID251
        entry = Entry(on, f"Contact: {row}", (row.note,) if row.note else ())
        yield row.review.procedure.injury_id, entry


def _reviews(user: Viewer, injuries: Iterable[int]) -> "list[Any]":
    rows = visible(user, Review).filter(procedure__injury__in=injuries)
    return list(rows.select_related("step", "procedure").prefetch_related("appointments"))


def _missing(review: Review, found: dict[str, list[Any]], injury_id: int) -> list[str]:
    """Compare what the step asks for with what was fetched, without asking the database again."""
    last = max(review.closes_on, review.attended_on or review.closes_on)

    def inside(rows: list[Any], day: str) -> list[Any]:
        return [
            row
            for row in rows
            if row.injury_id == injury_id and review.opens_on <= getattr(row, day) <= last
        ]

    films = inside(found["films"], "taken_on")
    present = requirements.Present(
        frozenset(film.view for film in films),
        bool(inside(found["motion"], "examined_on")),
        frozenset(score.instrument for score in inside(found["scores"], "taken_on")),
        requirements.asked_of(
            review.asked,
            told=review.attended_on is not None
            and bool(inside(found["complications"], "detected_on")),
        ),
        frozenset(film.view for film in films if film.shows_both_sides),
    )
    wanted = requirements.wanted_of(review.step)
    missing = requirements.still_missing(wanted, present, review.not_obtainable)
    return requirements.listed(missing, wanted.free_items)


def _review(review: Any, missing: list[str], today: date) -> Entry:
    link = ("clinic-visit", review.pk)
    if review.state == ReviewState.ATTENDED:
        title = f"Review {review.step}: attended"
        if not review.opens_on <= review.attended_on <= review.closes_on:
            title += ", outside its window"
        lacks = f"missing: {', '.join(missing)}" if missing else "complete"
        kind = "gap" if missing else "past"
        next_step = (f"next: {review.next_step_note}",) if review.next_step_note else ()
        return Entry(review.attended_on, title, (lacks, *next_step), kind, link)
    if review.state in (ReviewState.PLANNED, ReviewState.BOOKED):
        booked = [str(slot) for slot in review.appointments.all() if slot.state == "booked"]
        where = f"booked {booked[0]}" if booked else "not booked"
        late = review.due_on < today
        window = f"window {review.opens_on:%d %b %Y} to {review.closes_on:%d %b %Y}"
        title = f"Review {review.step}: {'late' if late else 'planned'}"
        return Entry(review.due_on, title, (where, window), "gap" if late else "ahead", link)
    reason = review.ended_reason or review.get_ended_because_display()
    details = tuple(
        part for part in (reason, ", ".join(missing) and f"missing: {', '.join(missing)}") if part
    )
    kind = "past" if review.state == ReviewState.NOT_NEEDED else "gap"
    return Entry(
        review.due_on,
        f"Review {review.step}: {review.get_state_display().lower()}",
        details if kind == "gap" else ((reason,) if reason else ()),
        kind,
        link,
    )
