import re
from collections.abc import Iterator
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from celery import current_app
from django.test import Client
from django.urls import reverse
from kombu.exceptions import OperationalError

from analytics.models import Snapshot
from analytics.services import snapshots
from analytics.tasks import snapshots as tasks
from registry.models import Person
from registry.models.jobs import JobRun
from tests import builders
from tests.analytics.records import held, lost
from tests.builders import NOW

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("at_noon")]
RULE = "definition=rise-3mm"


@pytest.fixture
def at_noon(time_machine: Any) -> None:
    time_machine.move_to(NOW)


@pytest.fixture
def meeting(client: Client, quality_lead: Person) -> Client:
    client.force_login(quality_lead)
    return client


@pytest.fixture
def at_once() -> Iterator[None]:
    current_app.conf.update(task_always_eager=True)
    yield
    current_app.conf.update(task_always_eager=False)


def text(answer: Any) -> str:
    plain = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", answer.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", unescape(plain))


def outcomes(meeting: Client, query: str = RULE) -> str:
    return text(meeting.get(f"{reverse('outcomes')}?{query}"))


def test_the_kept_snapshots_are_listed(meeting: Client) -> None:
    page = text(meeting.get(reverse("snapshots")))
    assert "No snapshot yet" in page
    held()
    outcomes(meeting)
    page = text(meeting.get(reverse("snapshots")))
    assert "1 index procedures" in page
    assert Snapshot.objects.get().content_hash[:12] in page
    assert "less than a minute old" in page
    assert "the same as now" in page


def test_a_figure_is_made_again_from_its_snapshot_after_data_changed(meeting: Client) -> None:
    held()
    first = outcomes(meeting)
    assert "nothing has changed since" in first
    prefix = Snapshot.objects.get().content_hash[:12]
    lost()
    assert "1 of 2 judged" in outcomes(meeting)
    again = outcomes(meeting, f"{RULE}&snapshot={prefix}")
    assert "0 of 1 judged" in again
    assert "Made again from the snapshot of" in again
    assert (
        f'name="snapshot" value="{prefix}"'
        in meeting.get(f"{reverse('outcomes')}?{RULE}&snapshot={prefix}").content.decode()
    )
    table = meeting.get(f"{reverse('outcomes-csv')}?{RULE}&snapshot={prefix}").content.decode()
    assert prefix in table


@pytest.mark.parametrize("name", ["abc", "0123456789ab", "../../etc/passwd"])
def test_a_snapshot_that_is_not_kept_is_said_and_the_newest_shown(
    meeting: Client, name: str
) -> None:
    held()
    page = outcomes(meeting, f"{RULE}&snapshot={name}")
    assert "The address could not be read" in page
    assert meeting.get(f"{reverse('outcomes-csv')}?{RULE}&snapshot={name}").status_code == 400


def test_a_stale_snapshot_says_its_age_and_is_taken_again_by_a_button(
    meeting: Client,
    quality_lead: Person,
    at_once: None,
    monkeypatch: pytest.MonkeyPatch,
    time_machine: Any,
) -> None:
    monkeypatch.setattr(snapshots, "SMALL", 0)
    held()
    outcomes(meeting)
    builders.procedure()
    time_machine.move_to(NOW + timedelta(hours=3, minutes=5))
    meeting.force_login(quality_lead)
    assert "The snapshot is 3 hours old, and data have changed since." in outcomes(meeting)
    answer = meeting.post(reverse("snapshots-refresh"), follow=True)
    assert "A new snapshot is being taken" in text(answer)
    assert Snapshot.objects.count() == 2
    assert JobRun.objects.get(job="refresh_snapshot").outcome == "good"
    assert "nothing has changed since" in outcomes(meeting)
    meeting.post(reverse("snapshots-refresh"))
    assert Snapshot.objects.count() == 2


def test_the_background_that_does_not_answer_is_said(
    meeting: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(**asked: Any) -> None:
        raise OperationalError("refused")

    monkeypatch.setattr(tasks.refresh, "apply_async", refused)
    answer = meeting.post(reverse("snapshots-refresh"), follow=True)
    assert "The background work does not answer" in text(answer)


def test_another_version_of_the_definition_is_said(meeting: Client) -> None:
    held()
    outcomes(meeting)
    one = Snapshot.objects.get()
    Snapshot.objects.update(definitions={**one.definitions, "rise-3mm": 7})
    assert "this definition was at version 7" in outcomes(meeting)


def test_taking_a_snapshot_is_a_form_and_listing_them_is_not(meeting: Client) -> None:
    assert meeting.get(reverse("snapshots-refresh")).status_code == 405
    assert meeting.post(reverse("snapshots")).status_code == 405


def test_whoever_may_not_see_outcomes_may_not_see_snapshots(
    client: Client, coordinator: Person
) -> None:
    client.force_login(coordinator)
    assert client.get(reverse("snapshots")).status_code == 403
    assert client.post(reverse("snapshots-refresh")).status_code == 403
