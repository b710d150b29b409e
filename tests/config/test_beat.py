"""The schedule in code is the schedule in the database."""

import pytest
from celery import current_app
from django.core.management import call_command, get_commands, load_command_class
from django_celery_beat.models import CrontabSchedule, PeriodicTask

from config import beat
from config.beat import Entry
from config.celery import task_modules
from registry.models import JobLock, JobRun
from tests import builders

pytestmark = pytest.mark.django_db


def stored() -> dict[str, tuple[str, str, str]]:
    rows = PeriodicTask.objects.filter(description=beat.OURS).select_related("crontab")
    return {row.name: (row.task, row.crontab.minute, row.crontab.hour) for row in rows}


def test_the_command_stores_every_entry() -> None:
    call_command("copy_schedule", verbosity=0)
    assert stored() == {
        entry.name: (entry.task, entry.minute, entry.hour) for entry in beat.SCHEDULE
    }


def test_copying_twice_changes_nothing() -> None:
    beat.copy_schedule()
    first = stored(), PeriodicTask.objects.count(), CrontabSchedule.objects.count()
    beat.copy_schedule()
    assert (stored(), PeriodicTask.objects.count(), CrontabSchedule.objects.count()) == first


def test_an_entry_that_left_the_code_leaves_the_database() -> None:
    beat.copy_schedule([Entry("old", "a.task"), Entry("kept", "b.task")])
    beat.copy_schedule([Entry("kept", "b.task", hour="3")])
    assert stored() == {"kept": ("b.task", "*", "3")}


def test_what_others_have_scheduled_is_left_alone() -> None:
    when = CrontabSchedule.objects.create(minute="7")
    PeriodicTask.objects.create(name="of the hospital", task="x.task", crontab=when)
    beat.copy_schedule()
    assert PeriodicTask.objects.filter(name="of the hospital").exists()


def test_an_entry_that_was_switched_off_stays_off() -> None:
    beat.copy_schedule()
    PeriodicTask.objects.filter(name=beat.SCHEDULE[0].name).update(enabled=False)
    beat.copy_schedule()
    assert not PeriodicTask.objects.get(name=beat.SCHEDULE[0].name).enabled


def test_something_runs_every_minute_so_that_health_sees_the_worker_work() -> None:
    assert any(entry.minute == "*" and entry.hour == "*" for entry in beat.SCHEDULE)


@pytest.mark.parametrize("entry", beat.SCHEDULE, ids=lambda entry: entry.task)
def test_every_scheduled_task_is_one_that_the_worker_knows(entry: Entry) -> None:
    current_app.loader.import_default_modules()
    assert entry.task in current_app.tasks
    assert entry.task.rpartition(".")[0] in task_modules()


def ours() -> list[str]:
    current_app.loader.import_default_modules()
    return sorted(name for name in current_app.tasks if name.rpartition(".")[0] in task_modules())


def test_every_task_of_ours_is_scheduled_once() -> None:
    assert sorted(entry.task for entry in beat.SCHEDULE) == ours()


@pytest.mark.parametrize("name", ours())
def test_every_task_is_a_recorded_job_with_a_command_of_its_name(name: str) -> None:
    builders.load_defaults()
    task = current_app.tasks[name]
    job = task.run.job_name
    assert load_command_class(get_commands()[job], job).task.name == name
    for _ in range(2):
        assert task()["outcome"] == "good"
    runs = JobRun.objects.filter(job=job)
    assert [run.outcome for run in runs] == ["good", "good"]
    assert JobLock.objects.get(job=job).holder == ""
