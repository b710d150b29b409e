"""Several workers at the same moment: each message goes once, and a patient's counts hold."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.core import mail
from django.db import connection

from followup.models import Message, MessagePolicy
from followup.services import reminders
from tests import builders
from tests.builders import NOW, TODAY
from tests.many import copies
from tests.outbox import reminder, run

pytestmark = [pytest.mark.needs_postgres, pytest.mark.django_db(transaction=True)]
WORKERS = 6


def all_at_once(work: Callable[[], object]) -> None:
    """Let several workers do something at the same moment."""
    line = Barrier(WORKERS)

    def one(_: int) -> None:
        line.wait(timeout=300)
        try:
            work()
        finally:
            connection.close()

    with ThreadPoolExecutor(WORKERS) as pool:
        list(pool.map(one, range(WORKERS)))


def test_workers_share_what_waits_and_none_of_it_goes_twice() -> None:
    builders.load_defaults()
    messages = [reminder() for _ in range(12)]
    all_at_once(run)
    assert set(Message.objects.values_list("state", flat=True)) == {"sent"}
    assert len(mail.outbox) == len(messages)
    assert all(message.steps.filter(kind="handing_over").count() == 1 for message in messages)


def test_one_patient_gets_one_message_a_day_however_many_workers_send() -> None:
    builders.load_defaults()
    first = reminder()
    assert first.review is not None
    copies(first, 9, key=lambda n: f"copy-{n}", uuid=lambda n: f"00000000-0000-4000-8000-{n:012d}")
    all_at_once(run)
    assert len(mail.outbox) == 1
    states = list(Message.objects.values_list("state", flat=True))
    assert (states.count("sent"), states.count("waiting")) == (1, 9)


def test_planners_at_the_same_moment_write_each_reminder_once() -> None:
    builders.load_defaults()
    review = builders.procedure().reviews.get(step__code="6m")
    type(review).objects.filter(pk=review.pk).update(
        opens_on=TODAY, due_on=TODAY, proposed_on=TODAY, closes_on=TODAY
    )
    Message.objects.all().delete()
    MessagePolicy.objects.create(site=review.site, reminder_first_day=0)
    all_at_once(lambda: reminders.plan_reminders(now=NOW, today=TODAY))
    assert Message.objects.filter(review=review).count() == 1
