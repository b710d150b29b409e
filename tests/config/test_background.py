"""The administrator's page of the background work."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from io import StringIO
from typing import Any

import pytest
import time_machine
from celery import current_app
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from kombu.exceptions import OperationalError

from config import background, catching_up, health
from config.beat import SCHEDULE, Entry
from followup.models import Message
from registry.models import JobLock, JobRun, Person
from registry.services import jobs
from tests import builders

pytestmark = pytest.mark.usefixtures("defaults")
NOW = datetime(2026, 11, 25, 9, 2, tzinfo=UTC)


def ran(entry: Entry, now: datetime = NOW) -> JobRun:
    return jobs.run_job(catching_up.job_name(entry), lambda: {"things done": 2}, now=now)


@pytest.fixture
def signed_in(administrator: Person, client: Client) -> Client:
    current_app.loader.import_default_modules()
    health.note_work(NOW)
    client.force_login(administrator)
    return client


def page(client: Client, now: datetime = NOW) -> str:
    with time_machine.travel(now, tick=False):
        return client.get(reverse("background")).content.decode()


def test_every_job_is_shown_with_its_last_run_and_the_next(signed_in: Client) -> None:
    for entry in SCHEDULE:
        ran(entry)
    shown = page(signed_in)
    assert "All goes well" in shown
    for entry in SCHEDULE:
        assert entry.name.replace("'", "&#x27;") in shown
    assert shown.count("2 things done.") == len(SCHEDULE)
    assert "26 Nov 01:10" in shown


def test_what_never_ran_failed_or_went_silent_is_to_be_looked_at(signed_in: Client) -> None:
    def broken() -> None:
        raise OSError("no space left")

    jobs.run_job("sweep_reviews", broken, now=NOW - timedelta(minutes=20))
    jobs._begin("raise_removals", NOW - timedelta(hours=1), alone=True, lease=jobs.LEASE)
    health.note_work(NOW - timedelta(minutes=4))
    shown = page(signed_in)
    assert "To be looked at" in shown
    assert "no space left" in shown
    assert "went silent while it held the job" in shown
    assert "It has never run." in shown
    assert "No worker has shown life" in shown


def test_a_fault_that_was_made_good_is_no_longer_shown(signed_in: Client) -> None:
    for entry in SCHEDULE:
        ran(entry, NOW - timedelta(hours=2))
    jobs.run_job("sweep_reviews", lambda: 1 / 0, now=NOW - timedelta(hours=1))
    assert "ZeroDivisionError" in page(signed_in)
    ran(next(one for one in SCHEDULE if catching_up.job_name(one) == "sweep_reviews"))
    assert "All goes well" in page(signed_in)


def test_the_page_costs_the_same_however_often_jobs_have_run(
    signed_in: Client, counted: Callable[[], Any]
) -> None:
    def queries() -> int:
        with counted() as found:
            page(signed_in)
        return len(found)

    for entry in SCHEDULE:
        ran(entry)
    few = queries()
    for hours in range(1, 8):
        for entry in SCHEDULE:
            ran(entry, NOW - timedelta(hours=hours))
    assert queries() == few <= 12


def test_run_now_asks_a_worker_for_the_very_task_of_the_schedule(
    signed_in: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    for entry in SCHEDULE:
        task = current_app.tasks[entry.task]
        monkeypatch.setattr(
            type(task), "apply_async", lambda self, **given: asked.append(self.name)
        )
    said = signed_in.post(reverse("background-run", args=["sweep_reviews"]), follow=True)
    assert asked == ["followup.tasks.planning.sweep"]
    assert "Asked for: Plan and lapse reviews" in said.content.decode()


def test_run_now_says_when_the_broker_is_down_and_knows_no_other_job(
    signed_in: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def down(self: Any, **given: Any) -> None:
        raise OperationalError("refused")

    monkeypatch.setattr(type(current_app.tasks[SCHEDULE[0].task]), "apply_async", down)
    url = reverse("background-run", args=[catching_up.job_name(SCHEDULE[0])])
    assert "the broker does not answer" in signed_in.post(url, follow=True).content.decode()
    assert signed_in.post(reverse("background-run", args=["rm"])).status_code == 404
    assert signed_in.get(url).status_code == 405


def test_only_an_administrator_may_look(coordinator: Person, client: Client) -> None:
    client.force_login(coordinator)
    assert client.get(reverse("background")).status_code == 403


def test_messages_that_wait_are_counted_at_ones_own_sites(administrator: Person) -> None:
    for code, state in (("north", "waiting"), ("north", "failed"), ("south", "waiting")):
        patient = builders.patient(builders.site(code))
        Message.objects.create(
            site=patient.site,
            patient=patient,
            key=f"{code}:{state}",
            purpose="reminder",
            state=state,
            wanted_at=NOW,
        )
    found = background.outbox(administrator, NOW)
    assert (found.waiting, found.stuck, found.parked) == (1, 0, 1)


def test_the_command_prints_the_same_and_ends_with_1_when_something_is_wrong(
    administrator: Person,
) -> None:
    current_app.loader.import_default_modules()
    for entry in SCHEDULE:
        ran(entry)
    out = StringIO()
    with time_machine.travel(NOW, tick=False):
        health.note_work(NOW)
        call_command("show_background", stdout=out)
        assert "2 things done." in out.getvalue()
        JobLock.objects.all().delete()
        with pytest.raises(SystemExit):
            call_command("show_background", stdout=StringIO(), stderr=StringIO())
