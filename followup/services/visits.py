"""One visit, saved whole or not at all: films and readings, motion, scores, harms, what next."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from followup.models.reviews import Review
from followup.rules import requirements
from followup.rules.findings import Found
from followup.services import (
    completion,
    complications,
    days,
    drafts,
    films,
    hardware,
    motion,
    physiotherapy,
    scores,
)
from registry.errors import BadInput, StaleVersion
from registry.models.injuries import Injury
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.services import records


@dataclass(frozen=True)
class FilmFound:
    """One film of the visit with what was read from it; `reading` is empty when not read.

    `reader` is left out where whoever saves the visit has read the film; `found` where nobody looked
    for more than lengths, union and hardware.
    """

    film: Mapping[str, Any]
    reading: Mapping[str, Any] = field(default_factory=dict)
    reader: Person | None = None
    found: Sequence[Found] = ()


@dataclass(frozen=True)
class HardwareDecided:
    """What was decided about the open question of removal, over the version that the user saw."""

    state: str
    values: Mapping[str, Any]
    expected_version: int


@dataclass(frozen=True)
class VisitFindings:
    """All that one visit found. `asked` names what was asked or looked at: see requirements.ASKED."""

    films: Sequence[FilmFound] = ()
    motion: Sequence[Mapping[str, Any]] = ()
    score_totals: Mapping[str, float] = field(default_factory=dict)
    complications: Sequence[Mapping[str, Any]] = ()
    hardware_symptoms: str = ""
    arrange_physiotherapy: bool = False
    asked: Sequence[str] = ()
    not_obtainable: Mapping[str, str] = field(default_factory=dict)
    next_step_note: str = ""
    visit_note: str = ""
    hardware_decision: HardwareDecided | None = None


def save_visit(
    *,
    review: Review,
    visited_on: date,
    findings: VisitFindings,
    expected_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> Review:
    """Save a visit over the version of the review that the user saw; a second one adds to it.

    Raises StaleVersion when somebody else saved this visit first, BadInput naming each field that
    cannot be taken; then nothing is saved.
    """
    if visited_on > today:
        raise BadInput({"visited_on": f"{visited_on} is in the future."})
    if visited_on < review.procedure.performed_on:
        raise BadInput({"visited_on": f"{visited_on} is before the operation it follows."})
    days.refuse_after_death(review.procedure.injury, visited_on, "visited_on")
    _refuse_unasked(review, findings.asked)
    with records.change(by=by):
        records.hold(review, expected_version=expected_version)
        review.asked = sorted({*review.asked, *findings.asked})
        review.not_obtainable = {**review.not_obtainable, **findings.not_obtainable}
        review.next_step_note = findings.next_step_note[:300] or review.next_step_note
        review.visit_note = findings.visit_note[:4000] or review.visit_note
        _refuse_stale_decision(review.procedure, findings.hardware_decision)
        save_findings(
            procedure=review.procedure,
            findings=findings,
            on=visited_on,
            by=by,
            now=now,
            today=today,
        )
        if findings.hardware_decision is not None:
            _decide(review.procedure, findings.hardware_decision, by, now, today)
        drafts.forget_draft(review=review, by=by)
        if findings.arrange_physiotherapy:
            physiotherapy.arrange(review=review, on=visited_on, by=by, now=now, today=today)
        return completion.attend(
            review=review, on=visited_on, expected_version=expected_version, by=by, now=now
        )


def _refuse_stale_decision(procedure: Procedure, decided: HardwareDecided | None) -> None:
    """Refuse a decision over a question that has changed; a complaint of the same visit may follow."""
    if decided is None:
        return
    question = hardware.open_question(procedure)
    current = 0 if question is None else question.version
    if current != decided.expected_version:
        raise StaleVersion("Hardware decision", expected=decided.expected_version, current=current)


def _decide(
    procedure: Procedure, decided: HardwareDecided, by: Person, now: datetime, today: date
) -> None:
    question = hardware.open_question(procedure)
    if question is None:
        raise BadInput({"state": "There is no open question about this hardware."})
    hardware.decide(
        decision=question,
        state=decided.state,
        values=decided.values,
        expected_version=question.version,
        by=by,
        now=now,
        today=today,
    )


def _refuse_unasked(review: Review, asked: Sequence[str]) -> None:
    own = map(requirements.free_item, completion.wanted_by(review).free_items)
    known = [*requirements.ASKED, *own]
    unknown = [item for item in asked if item not in known]
    if unknown:
        told = f"'{unknown[0]}' is not asked at '{review.step}'; there are {', '.join(known)}."
        raise BadInput({"asked": told})


def save_findings(
    *,
    procedure: Procedure,
    findings: VisitFindings,
    on: date,
    by: Person,
    now: datetime,
    today: date,
) -> None:
    """Save what was found on a day, whether or not a review was planned for it.

    Raises BadInput naming each field that cannot be taken.
    """
    injury = procedure.injury
    _save_films(injury, findings.films, by, now, today)
    for exam in findings.motion:
        motion.record_motion(
            injury=injury, values={"examined_on": on, **exam}, by=by, now=now, today=today
        )
    for instrument, total in findings.score_totals.items():
        scores.record_score(
            injury=injury,
            instrument=instrument,
            taken_on=on,
            total=total,
            by=by,
            now=now,
            today=today,
        )
    for event in findings.complications:
        complications.record_complication(
            procedure=procedure, values=event, by=by, now=now, today=today
        )
    if findings.hardware_symptoms:
        hardware.note_complaint(
            procedure=procedure, complaint=findings.hardware_symptoms, by=by, now=now, on=on
        )


def _save_films(
    injury: Injury, found: Sequence[FilmFound], by: Person, now: datetime, today: date
) -> None:
    for one in found:
        film = films.record_film(injury=injury, values=one.film, by=by, now=now, today=today)
        if one.reading or one.found:
            films.record_reading(
                film=film,
                values=one.reading,
                reader=one.reader or by,
                by=by,
                now=now,
                today=today,
                found=one.found,
            )
