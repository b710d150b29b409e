"""Asking the coordinator to arrange physiotherapy for somebody whose motion is behind."""

from datetime import date, datetime, timedelta

from followup.models.motion import MotionExam
from followup.models.reviews import Review
from followup.models.tasks import Task, TaskKind
from followup.selectors import milestones
from followup.services import tasks
from registry.models.people import Person

# Common practice, no source.
WITHIN_DAYS = 7


def arrange(*, review: Review, on: date, by: Person, now: datetime, today: date) -> Task:
    """Open the task for the coordinator, with the numbers that the visit's motion exam gave.

    Asked for twice at one review, it is one task. Raises BadInput when it cannot be saved.
    """
    injury = review.procedure.injury
    exams = MotionExam.objects.filter(injury=injury, examined_on__lte=on)
    found = milestones.of_injury(injury, exams)
    behind = [one.sentence for one in milestones.latest(found) if one.needs_attention]
    numbers = "; ".join(behind) or "the last motion exam is not behind a milestone"
    return tasks.open_task(
        site=review.site,
        patient=injury.patient,
        review=review,
        kind=TaskKind.PHYSIOTHERAPY,
        words=f"Asked for on {on:%d %b %Y}, {injury.get_side_display().lower()} shoulder: {numbers}",
        due_on=today + timedelta(days=WITHIN_DAYS),
        key=f"physiotherapy:{review.pk}",
        by=by,
        now=now,
    )
