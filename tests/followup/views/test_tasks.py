"""What is to be done: the list of tasks, and closing one."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Task
from followup.services import tasks
from registry.models import AuditEntry, Person
from registry.services import erasure
from tests import builders
from tests.builders import NOW, TODAY
from tests.looked import named_on

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def here(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


def opened(words: str = "Ring the practice.", days: int = 0, kind: str = "contact") -> Task:
    patient = builders.patient(family_name="Quill")
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


def page(client: Client, **query: str) -> str:
    return str(client.get(reverse("tasks"), query).content.decode())


def test_the_most_urgent_comes_first_and_what_is_overdue_says_so(here: Client) -> None:
    opened("Later", 2)
    opened("Overdue", -2)
    shown = page(here)
    assert shown.index("Overdue") < shown.index("Later")
    assert 'class="act-now">23 Nov 2026, overdue' in shown
    assert "2 open tasks, most urgent first" in shown


def test_the_due_page_says_how_many_are_open(here: Client) -> None:
    opened()
    assert "Tasks (1 open)" in here.get(reverse("due")).content.decode()


def test_the_list_is_cut_to_a_kind(here: Client) -> None:
    opened("Ring")
    opened("Look", kind="message")
    assert "Look" not in page(here, kind="contact")
    assert "Look" in page(here, kind="nonsense")


def test_a_task_is_closed_with_a_note(here: Client, coordinator: Person) -> None:
    task = opened()
    where = reverse("task-close", args=[task.pk])
    assert "This field is required" in here.post(where, {"version": 1}).content.decode()
    here.post(where, {"version": 1, "note": "Has a new number."})
    task.refresh_from_db()
    assert (task.done_note, task.changed_by) == ("Has a new number.", coordinator)
    assert "Nothing is to be done" in page(here)


def test_a_task_that_somebody_else_closed_is_said(here: Client) -> None:
    task = opened()
    tasks.close_task(task=task, note="Mine.", expected_version=1, by=task.recorded_by, now=NOW)
    answer = here.post(reverse("task-close", args=[task.pk]), {"version": 1, "note": "Me too."})
    shown = answer.content.decode()
    assert "done, Mine." in shown
    assert Task.objects.get().done_note == "Mine."


def test_a_task_that_changed_is_closed_over_what_is_saved_now(here: Client) -> None:
    task = opened()
    Task.objects.update(version=4)
    where = reverse("task-close", args=[task.pk])
    shown = here.post(where, {"version": 1, "note": "Rang."}).content.decode()
    assert "Somebody else changed this task meanwhile" in shown
    assert 'name="version" value="4"' in shown
    assert Task.objects.get().done_at is None


def test_whom_the_list_and_the_page_of_a_task_named_is_written_down(here: Client) -> None:
    task = opened()
    erased = opened("Erased")
    erasure.erase_patient(
        patient=erased.patient, reason="letter", by=task.recorded_by, now=NOW, today=TODAY
    )
    page(here)
    assert named_on("tasks") == [[task.patient.key]]
    here.get(reverse("task-close", args=[task.pk]))
    assert AuditEntry.objects.filter(
        action="read", reason="task-close", row_id=str(task.patient_id)
    ).exists()
