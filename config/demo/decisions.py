"""The steps of invented removal decisions, and what the last days left to do about hardware and motion."""

from datetime import date, datetime, timedelta

from analytics.simulation.records import SimDecision
from config.demo.batch import Batch
from config.demo.bulk import link, new
from config.demo.enrolled import Enrolled
from followup.models import HardwareDecision, HardwareStep, MotionExam, Reading, Review
from followup.models.hardware import StepKind
from followup.models.reviews import ReviewState
from followup.rules.prompts import ANSWERS, SYMPTOMATIC_ON_FILM
from followup.selectors import milestones
from followup.services import physiotherapy, removal_tasks, symptoms
from registry.models import Person

# How much of an invented service is gone through for its last days, whatever its size.
FILMS, EXAMS, BEHIND = 20, 80, 3


def decision_rows(batch: Batch, one: SimDecision, of: Enrolled) -> None:
    """Add a removal decision with its steps; what was removed had been planned on the way there."""
    removals = [row for _, row in of.later if row.kind == "implant_removal"]
    last = one.decided_on or one.raised_on
    first = _planned_on(one) if one.state == "done" else last
    row = new(
        HardwareDecision,
        procedure=of.index,
        raised_because=one.raised_because,
        raised_on=one.raised_on,
        waiting_since=last,
        state=one.state,
        decided_on=one.decided_on,
        first_decided_on=first if one.state in ANSWERS else None,
        wish_on=one.wish_on,
        deferred_until=one.deferred_until,
        reason=one.reason,
        removal=removals[0] if one.state == "done" else None,
    )
    batch.fact(row, site=of.site, by=of.surgeon, on=last)
    steps = [new(HardwareStep, kind=StepKind.RAISED, on=one.raised_on)]
    if one.state == "done":
        steps.append(new(HardwareStep, kind=StepKind.PLANNED, on=first))
    if one.state != "raised":
        words = "by the implant removal" if one.state == "done" else one.reason
        until = one.deferred_until
        step = new(
            HardwareStep,
            kind=one.state,
            on=last,
            words=words,
            wish_on=one.wish_on,
            deferred_until=until,
        )
        steps.append(step)
    for step in steps:
        link(step, "decision", row)
        batch.fact(step, site=of.site, by=of.surgeon, on=step.on)


def last_days(*, by: Person, now: datetime, today: date) -> None:
    """Let the services see what the last films and exams found, as they would have at once."""
    loose = Reading.objects.filter(
        hardware__in=sorted(SYMPTOMATIC_ON_FILM), superseded_by__isnull=True
    ).select_related("film", "reader")
    for reading in loose.order_by("-film__taken_on", "-id")[:FILMS]:
        symptoms.heed_reading(reading=reading, by=reading.reader, now=now)
    _ask_for_physiotherapy(now=now, today=today)
    removal_tasks.open_for_ignored(by=by, now=now, today=today)


def _ask_for_physiotherapy(*, now: datetime, today: date) -> None:
    attended = Review.objects.filter(
        state=ReviewState.ATTENDED, procedure__injury__patient__status="active"
    ).select_related("step", "site", "procedure__injury__patient", "procedure__surgeon")
    asked = 0
    for review in attended.order_by("-attended_on", "-id")[:EXAMS]:
        injury = review.procedure.injury
        exams = MotionExam.objects.filter(injury=injury)
        found = milestones.latest(milestones.of_injury(injury, exams))
        surgeon = review.procedure.surgeon
        if surgeon is not None and any(one.verdict == "behind" for one in found):
            on = max(one.on for one in found)
            physiotherapy.arrange(review=review, on=on, by=surgeon, now=now, today=today)
            asked += 1
        if asked == BEHIND:
            return


def _planned_on(one: SimDecision) -> date:
    """Put the plan of a removal halfway between the question and the operation."""
    ended = one.decided_on or one.raised_on
    return one.raised_on + timedelta(days=(ended - one.raised_on).days // 2)
