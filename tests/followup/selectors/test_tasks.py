"""Which tasks are open, and in which order."""

from datetime import timedelta

import pytest

from followup.models import Task
from followup.selectors.tasks import open_tasks
from followup.services import tasks
from registry.models import Person
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def opened(words: str, days: int = 0, site: str = "north", kind: str = "other") -> Task:
    patient = builders.patient(builders.site(site))
    return tasks.open_task(
        site=patient.site,
        patient=patient,
        kind=kind,
        words=words,
        due_on=TODAY + timedelta(days=days),
        key=words,
        by=patient.recorded_by,
        now=NOW,
    )


def test_the_open_ones_of_ones_sites_come_by_their_day(coordinator: Person) -> None:
    opened("later", 3)
    opened("overdue", -3)
    opened("elsewhere", site="south")
    done = opened("done")
    tasks.close_task(task=done, note="Done.", expected_version=1, by=coordinator, now=NOW)
    assert [task.words for task in open_tasks(coordinator)] == ["overdue", "later"]


def test_one_kind_can_be_asked_for(coordinator: Person) -> None:
    opened("ring", kind="contact")
    opened("look", kind="message")
    assert [task.words for task in open_tasks(coordinator, "contact")] == ["ring"]
