from typing import Any

import pytest
from django.core import mail

from analytics.models import LossAlert
from analytics.tasks.alerts import tell, weigh, weigh_again
from followup.models import Film
from registry.models import JobRun, Person
from tests.analytics.losses import alerted, operated
from tests.analytics.records import reading
from tests.builders import NOW

pytestmark = pytest.mark.usefixtures("defaults")


def test_weighing_is_a_recorded_job_and_twice_equals_once(time_machine: Any) -> None:
    time_machine.move_to(NOW)
    reading(operated(), 90, "14.0")
    for _ in range(2):
        assert weigh()["outcome"] == "good"
    assert LossAlert.objects.count() == 1
    assert JobRun.objects.filter(job="weigh_readings", outcome="good").count() == 2


def test_at_night_what_no_notice_tells_of_is_seen(time_machine: Any) -> None:
    time_machine.move_to(NOW)
    done = operated()
    last = reading(done, 90, "14.0")
    weigh()
    Film.objects.filter(pk=last.film_id).update(view="ap")
    weigh()
    assert LossAlert.objects.get().state == "open"
    assert weigh_again()["outcome"] == "good"
    assert LossAlert.objects.get().state == "taken_back"


def test_surgeons_are_told_once_however_often_it_runs(time_machine: Any, surgeon: Person) -> None:
    time_machine.move_to(NOW)
    Person.objects.filter(pk=surgeon.pk).update(email="selma@staff.invalid")
    alerted(surgeon=surgeon)
    for _ in range(2):
        assert tell()["outcome"] == "good"
    assert len(mail.outbox) == 1
