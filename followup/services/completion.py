"""What was collected inside a review's window, and whether that completes it."""

from collections.abc import Collection
from contextlib import suppress
from datetime import date, datetime

from django.db.models import Exists, OuterRef
from django.db.models.functions import Greatest

from followup.models.complications import Complication
from followup.models.films import Film
from followup.models.motion import MotionExam
from followup.models.reviews import AppointmentState, Review, ReviewState
from followup.models.scores import Score
from followup.rules import requirements, states
from followup.selectors import collected
from followup.selectors.collected import Findings, collected_for
from followup.services import messages, planning
from registry.errors import StaleVersion
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.selectors.chunks import in_chunks
from registry.services import gathering, jobs, records


def wanted_by(review: Review) -> requirements.Wanted:
    """Return what a review's step asks for."""
    return requirements.wanted_of(review.step)


def present_in(review: Review) -> requirements.Present:
    """Return what was collected for the injury inside the review's window, or on its visit's day."""
    injury = review.procedure.injury if gathering.current() else None
    if injury is None or not gathering.is_new(injury):
        return collected_for([review])[review.pk]
    operations = records.under(Procedure, injury=injury)
    events = [row for one in operations for row in records.under(Complication, procedure=one)]
    films, exams = records.under(Film, injury=injury), records.under(MotionExam, injury=injury)
    found = Findings(
        films=[(film.taken_on, film.view, film.shows_both_sides) for film in films],
        exams=[(exam.examined_on,) for exam in exams],
        scores=[(row.taken_on, row.instrument) for row in records.under(Score, injury=injury)],
        events=[(event.detected_on, event.procedure_id) for event in events],
    )
    return collected.present_in(review, found)


def still_missing(review: Review) -> tuple[str, ...]:
    """Return what a review still lacks."""
    return requirements.still_missing(wanted_by(review), present_in(review), review.not_obtainable)


def first_finding(review: Review) -> date | None:
    """Return the first day inside the window on which anything was collected."""
    return first_findings([review])[review.pk]


def first_findings(reviews: Collection[Review]) -> dict[int, date | None]:
    """Return the same of many reviews, whose operations come with them, in four queries."""
    found = collected.findings_of({review.procedure.injury_id for review in reviews})
    return {review.pk: _first_day(review, found[review.procedure.injury_id]) for review in reviews}


def _first_day(review: Review, found: Findings) -> date | None:
    operation = review.procedure
    days = [on for rows in (found.films, found.exams, found.scores) for on, *_ in rows]
    # What led to a revision was found before the revision's own first review.
    days += [
        on
        for on, procedure_id in found.events
        if procedure_id == operation.pk or on > operation.performed_on
    ]
    return min((day for day in days if review.opens_on <= day <= review.closes_on), default=None)


def settle(*, review: Review, by: Person, now: datetime) -> Review | None:
    """Mark a review attended when its window holds findings; None when it holds nothing."""
    day = first_finding(review)
    if day is None:
        return None
    return attend(review=review, on=day, expected_version=review.version, by=by, now=now)


def complete_attended(*, by: Person, now: datetime) -> int:
    """Mark attended reviews complete whose last findings came after the visit; return how many."""
    # Only what lies in the review's own time is worth a look: a later visit's findings are not its.
    last = Greatest(OuterRef("closes_on"), OuterRef("attended_on"))
    film, exam, score = (
        Exists(
            model.objects.filter(
                **{f"{day}__gte": OuterRef("opens_on"), f"{day}__lte": last},
                injury=OuterRef("procedure__injury"),
                recorded_at__gt=OuterRef("changed_at"),
            )
        )
        for model, day in ((Film, "taken_on"), (MotionExam, "examined_on"), (Score, "taken_on"))
    )
    waiting = Review.objects.filter(film | exam | score, state=ReviewState.ATTENDED, complete=False)
    completed = 0
    for chunk in in_chunks(waiting.select_related("step", "procedure")):
        present = collected_for(chunk)
        for review in chunk:
            wanted = wanted_by(review)
            if requirements.still_missing(wanted, present[review.pk], review.not_obtainable):
                continue
            # What somebody changes at this very moment is looked at again the next night.
            with suppress(StaleVersion):
                records.save(
                    review, {"complete": True}, by=by, now=now, expected_version=review.version
                )
                completed += 1
        jobs.beat(len(chunk))
    return completed


def complete_when_all_is_there(*, review: Review, by: Person, now: datetime) -> bool:
    """Mark an attended review complete when what came after its visit was the last that it lacked."""
    if review.state != ReviewState.ATTENDED or review.complete or still_missing(review):
        return False
    records.save(review, {"complete": True}, by=by, now=now, expected_version=review.version)
    return True


def attend(*, review: Review, on: date, expected_version: int, by: Person, now: datetime) -> Review:
    """Mark a review attended on a day, and say whether it is complete.

    A slot up to that day was kept; one of a later day is no longer needed and is cancelled.

    Raises IllegalTransition, StaleVersion.
    """
    with records.change(by=by):
        for slot in planning.booked_slots(review):
            if slot.on > on:
                continue
            kept = {"state": AppointmentState.KEPT}
            records.save(slot, kept, by=by, now=now, expected_version=slot.version)
            messages.stop(appointment=slot, because="the patient came")
        planning.cancel_slots(review=review, by=by, now=now)
        review.attended_on = review.attended_on or on
        review.state = states.attend(review.state)
        return records.save(
            review,
            {
                "state": ReviewState.ATTENDED,
                "attended_on": review.attended_on,
                "complete": not still_missing(review),
                "not_obtainable": review.not_obtainable,
                "asked": review.asked,
                "next_step_note": review.next_step_note,
                "visit_note": review.visit_note,
            },
            by=by,
            now=now,
            expected_version=expected_version,
        )
