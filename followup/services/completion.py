"""What was collected inside a review's window, and whether that completes it."""

from contextlib import suppress
from datetime import date, datetime

from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Greatest

from followup.models.complications import Complication
from followup.models.films import Film
from followup.models.motion import MotionExam
from followup.models.reviews import AppointmentState, Review, ReviewState
from followup.models.scores import Score
from followup.rules import requirements, states
from followup.selectors.collected import collected_for
from followup.services import messages, planning
from registry.errors import StaleVersion
from registry.models.people import Person
from registry.selectors.chunks import in_chunks
from registry.services import jobs, records


def wanted_by(review: Review) -> requirements.Wanted:
    """Return what a review's step asks for."""
    return requirements.wanted_of(review.step)


def present_in(review: Review) -> requirements.Present:
    """Return what was collected for the injury inside the review's window, or on its visit's day."""
    return collected_for([review])[review.pk]


def still_missing(review: Review) -> tuple[str, ...]:
    """Return what a review still lacks."""
    return requirements.still_missing(wanted_by(review), present_in(review), review.not_obtainable)


def first_finding(review: Review) -> date | None:
    """Return the first day inside the window on which anything was collected."""
    injury_id = review.procedure.injury_id
    inside = (review.opens_on, review.closes_on)
    days = [
        model.objects.filter(injury_id=injury_id, **{f"{field}__range": inside})
        .order_by(field)
        .values_list(field, flat=True)
        .first()
        for model, field in ((Film, "taken_on"), (MotionExam, "examined_on"), (Score, "taken_on"))
    ]
    # What led to a revision was found before the revision's own first review.
    of_before = ~Q(procedure=review.procedure) & Q(detected_on__lte=review.procedure.performed_on)
    events = (
        Complication.objects.filter(procedure__injury_id=injury_id, detected_on__range=inside)
        .exclude(of_before)
        .order_by("detected_on")
    )
    days.append(events.values_list("detected_on", flat=True).first())
    return min((day for day in days if day is not None), default=None)


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
        for slot in review.appointments.filter(state=AppointmentState.BOOKED, on__lte=on):
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
