"""The task that a surgeon opens for the coordinator."""

from datetime import date

import pytest

from followup.models import Review, Task
from followup.services import motion, physiotherapy, tasks
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")

DAY = date(2026, 9, 4)


def review_with(flexion: int) -> Review:
    operation = builders.procedure()
    motion.record_motion(
        injury=operation.injury,
        values={"examined_on": DAY, "side": "left", "mode": "active", "flexion_deg": flexion},
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    found: Review = operation.reviews.get(step__code="3m")
    return found


def arrange(review: Review) -> Task:
    return physiotherapy.arrange(review=review, on=DAY, by=review.recorded_by, now=NOW, today=TODAY)


def test_the_task_carries_the_numbers_and_is_due_within_a_week() -> None:
    review = review_with(80)
    task = arrange(review)
    assert (task.kind, task.review, task.patient) == (
        "physiotherapy",
        review,
        review.procedure.injury.patient,
    )
    assert task.due_on == date(2026, 12, 2)
    assert task.words.startswith(
        "Asked for on 04 Sep 2026, left shoulder: 3 months, active flexion: behind; "
        "needed 120 degrees, found 80"
    )


def test_a_surgeon_may_ask_for_it_without_a_milestone_that_is_missed() -> None:
    assert arrange(review_with(140)).words.endswith(
        "the last motion exam is not behind a milestone"
    )


def test_asked_for_twice_it_is_one_task_until_it_is_done() -> None:
    review = review_with(80)
    first = arrange(review)
    assert arrange(review) == first
    tasks.close_task(
        task=first,
        note="starts on Monday",
        expected_version=1,
        by=review.recorded_by,
        now=NOW,
    )
    assert arrange(review) != first
    assert Task.objects.filter(done_at__isnull=True).count() == 1
