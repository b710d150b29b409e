"""What a person has to do: opened once for its cause, closed with a word."""

from datetime import timedelta
from typing import Any

import pytest

from followup.models import Task
from followup.services import tasks
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models import Person
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def opened(by: Person, key: str = "a cause", **values: Any) -> Task:
    patient = values.pop("patient", None) or builders.patient(by=by)
    given = {"kind": "other", "words": "Ring the pharmacy.", "due_on": TODAY, **values}
    return tasks.open_task(site=patient.site, patient=patient, key=key, by=by, now=NOW, **given)


def test_one_cause_opens_one_task(coordinator: Person) -> None:
    first = opened(coordinator)
    assert opened(coordinator, patient=first.patient) == first
    assert Task.objects.count() == 1


def test_a_cause_that_comes_back_opens_another_task(coordinator: Person) -> None:
    first = opened(coordinator)
    tasks.close_task(task=first, note="Done.", expected_version=1, by=coordinator, now=NOW)
    again = opened(coordinator, patient=first.patient)
    assert (again != first, again.done_at) == (True, None)


def test_a_task_closes_with_a_note_and_a_time(coordinator: Person) -> None:
    task = opened(coordinator)
    later = NOW + timedelta(hours=1)
    tasks.close_task(task=task, note=" Rang. ", expected_version=1, by=coordinator, now=later)
    task.refresh_from_db()
    assert (task.done_at, task.done_note, task.changed_by) == (later, "Rang.", coordinator)


def test_a_task_is_not_closed_without_a_note(coordinator: Person) -> None:
    with pytest.raises(BadInput, match="Say what was done"):
        tasks.close_task(
            task=opened(coordinator), note=" ", expected_version=1, by=coordinator, now=NOW
        )


def test_a_task_is_not_closed_twice(coordinator: Person) -> None:
    task = opened(coordinator)
    seen_before = Task.objects.get()
    tasks.close_task(task=task, note="Done.", expected_version=1, by=coordinator, now=NOW)
    with pytest.raises(IllegalTransition):
        tasks.close_task(task=task, note="Done.", expected_version=2, by=coordinator, now=NOW)
    with pytest.raises(StaleVersion):
        tasks.close_task(
            task=seen_before, note="Mine.", expected_version=1, by=coordinator, now=NOW
        )


def test_a_task_of_no_known_kind_is_refused(coordinator: Person) -> None:
    with pytest.raises(BadInput):
        opened(coordinator, kind="errand")
