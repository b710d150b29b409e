"""What a person has to do: opened once for its cause, closed with a word."""

from datetime import timedelta
from typing import Any

import pytest

from followup.models import Task
from followup.services import tasks
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models import Patient, Person
from registry.services import erasure, patients
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


def change(patient: Patient, status: str, by: Person) -> None:
    patient.refresh_from_db()
    patients.change_status(
        patient=patient,
        status=status,
        on=None if status == "active" else TODAY,
        note="",
        expected_version=patient.version,
        by=by,
        now=NOW,
        today=TODAY,
    )


def notes(patient: Patient) -> dict[str, str]:
    rows = Task.objects.filter(patient=patient)
    return {row.kind: row.done_note if row.done_at else "open" for row in rows}


def three(by: Person) -> Patient:
    patient = builders.patient(by=by)
    for kind in ("alarming_answer", "contact", "other"):
        opened(by, f"{kind} {patient.pk}", patient=patient, kind=kind)
    return patient


@pytest.mark.parametrize(
    ("status", "note", "alarm"),
    [
        ("died", "died", "died"),
        ("withdrawn", "withdrew", "withdrew"),
        ("moved", "moved away", "open"),
    ],
)
def test_what_was_to_be_done_ends_with_the_follow_up_and_comes_back_with_it(
    coordinator: Person, status: str, note: str, alarm: str
) -> None:
    patient, other = three(coordinator), three(coordinator)
    done = opened(coordinator, "done before", patient=patient, kind="message")
    tasks.close_task(task=done, note="Sent.", expected_version=1, by=coordinator, now=NOW)
    change(patient, status, coordinator)
    closed = {"alarming_answer": alarm, "contact": note, "other": note, "message": "Sent."}
    assert notes(patient) == closed
    assert set(notes(other).values()) == {"open"}
    task = Task.objects.get(patient=patient, kind="contact")
    assert (task.version, task.changed_by) == (2, coordinator)
    change(patient, "active", coordinator)
    assert notes(patient) == {**dict.fromkeys(closed, "open"), "message": "Sent."}


def test_a_task_that_was_opened_anew_is_not_opened_twice(coordinator: Person) -> None:
    patient = builders.patient(by=coordinator)
    opened(coordinator, patient=patient)
    change(patient, "moved", coordinator)
    opened(coordinator, patient=patient)
    change(patient, "active", coordinator)
    assert sorted(Task.objects.values_list("done_note", flat=True)) == ["", "moved away"]


def test_nothing_is_left_to_be_done_about_an_erased_patient(
    coordinator: Person, administrator: Person
) -> None:
    patient = three(coordinator)
    change(patient, "moved", coordinator)
    erasure.erase_patient(
        patient=patient, reason="asked by letter", by=administrator, now=NOW, today=TODAY
    )
    assert not Task.everything.filter(patient=patient, done_at=None, voided_at=None).exists()
    alarm = Task.everything.get(patient=patient, kind="alarming_answer")
    assert alarm.done_note == "erased on request"
