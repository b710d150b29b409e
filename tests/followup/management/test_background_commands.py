"""What the worker does can be done by hand, and twice equals once."""

from datetime import UTC, date, datetime
from io import StringIO

import pytest
import time_machine
from django.core.management import call_command

from followup.models import HardwareDecision, Review
from tests import builders

pytestmark = pytest.mark.usefixtures("defaults")


def said(command: str) -> str:
    out = StringIO()
    with time_machine.travel(datetime(2030, 1, 1, 12, 0, tzinfo=UTC), tick=False):
        call_command(command, stdout=out)
    return out.getvalue().strip()


def test_sweep_reviews_says_what_it_did_and_then_finds_nothing_more() -> None:
    builders.procedure()
    lapsed = Review.objects.count()
    assert said("sweep_reviews") == (
        f"0 operations planned, 0 reviews moved, {lapsed} reviews lapsed, 0 reviews completed."
    )
    assert said("sweep_reviews") == (
        "0 operations planned, 0 reviews moved, 0 reviews lapsed, 0 reviews completed."
    )


def test_raise_removals_raises_each_question_once() -> None:
    builders.procedure(performed_on=date(2026, 6, 5), construct={"construct_type": "HP"})
    rest = "0 deferred questions back, 0 tasks for questions that wait."
    assert said("raise_removals") == f"1 questions raised, {rest}"
    assert said("raise_removals") == f"0 questions raised, {rest}"
    assert HardwareDecision.objects.count() == 1


def test_deliver_messages_counts_what_became_of_each() -> None:
    assert said("deliver_messages") == ("0 sent, 0 stopped, 0 waiting, 0 failed, 0 unknown.")


def test_plan_reminders_puts_each_into_the_outbox_once() -> None:
    review = builders.procedure().reviews.get(step__code="6m")
    day = date(2029, 12, 1)
    Review.objects.filter(pk=review.pk).update(
        opens_on=day, due_on=day, proposed_on=day, closes_on=date(2030, 2, 1)
    )
    assert said("plan_reminders") == "1 reminders put into the outbox."
    assert said("plan_reminders") == "0 reminders put into the outbox."
