"""The site's policy of contact under Setup, and what follows from it at the list."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import ContactPolicy, Unreachable
from followup.services import contacts
from registry.models import Person, Procedure
from tests import builders
from tests.builders import NOW
from tests.followup.listed import due

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]
SENT = {
    "version": "1",
    "attempts": "2",
    "means": "1",
    "over_days": "3",
    "days_between": "1",
    "calls_before_other_route": "2",
    "reminder_days": "10",
}


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


def policy(client: Client, **values: str) -> Any:
    where = reverse("setup-contact-site", args=[builders.site().pk])
    return client.post(where, {**SENT, **values}, follow=True)


def test_a_policy_is_set_and_shown(client: Client, administrator: Person) -> None:
    client.force_login(administrator)
    assert "as shipped" in client.get(reverse("setup-contact")).content.decode()
    shown = policy(client).content.decode()
    assert "2 tries by 1 means over 3 days" in shown
    assert "as shipped" not in shown
    assert ContactPolicy.objects.get().reminder_days == 10


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"means": "3"}, "There cannot be more different means than tries."),
        ({"attempts": "0"}, "greater than or equal to 1"),
        ({"days_between": "9"}, "These are fewer days than lie between two tries"),
    ],
)
def test_a_policy_that_makes_no_sense_is_refused_by_its_field(
    client: Client, administrator: Person, values: dict[str, str], says: str
) -> None:
    client.force_login(administrator)
    assert says in policy(client, **values).content.decode()
    assert not ContactPolicy.objects.exists()


def test_a_policy_over_a_newer_one_shows_both(client: Client, administrator: Person) -> None:
    client.force_login(administrator)
    policy(client)
    ContactPolicy.objects.update(version=5, attempts=7)
    answer = policy(client)
    assert answer.status_code == 409
    assert "Somebody else saved this first" in answer.content.decode()


def test_who_cannot_be_reached_leaves_the_list_and_stays_to_be_found(
    client: Client, coordinator: Person
) -> None:
    review = due(phone="0555 010 1")
    ContactPolicy.objects.create(site=review.site, attempts=1, means=1, over_days=0)
    client.force_login(coordinator)
    where = reverse("review-attempt", args=[review.pk])
    form = client.get(where).content.decode()
    assert "Next: phone call now" in form
    sent = {"version": review.version, "means": "phone", "outcome": "no_answer"}
    shown = client.post(where, sent, follow=True).content.decode()
    assert "Cannot be reached: 1 try in 0 days without an answer (phone call)" in shown
    assert "1 more cannot be reached and is not listed" in shown
    assert "Quill, Ada</a>" not in shown
    Procedure.objects.update(surgeon=coordinator)
    asked = {"show": "unbooked", "week": "2026-11-23", "surgeon": coordinator.pk}
    chosen = client.get(reverse("due"), asked).content.decode()
    address = f"show=unreachable&amp;week=2026-11-23&amp;surgeon={coordinator.pk}"
    assert f'<a href="?{address}">show it</a>' in chosen
    lost = client.get(reverse("due"), {"show": "unreachable"}).content.decode()
    assert "Quill, Ada</a>" in lost
    assert "since 25 Nov 2026" in lost
    assert Unreachable.objects.count() == 1
    course = client.get(reverse("patient", args=[review.procedure.injury.patient.key]))
    said = " ".join(course.content.decode().split())
    assert "cannot be reached</span> since 25 Nov 2026: 1 try in 0 days" in said


def test_hardware_past_its_time_stays_on_the_list_whoever_cannot_be_reached(
    client: Client, coordinator: Person
) -> None:
    review = due(phone="1", construct="HP")
    ContactPolicy.objects.create(site=review.site, attempts=1, means=1, over_days=0)
    contacts.record_attempt(
        review=review,
        means="phone",
        outcome="no_answer",
        note="",
        by=coordinator,
        now=NOW - timedelta(days=1),
    )
    client.force_login(coordinator)
    shown = client.get(reverse("due")).content.decode()
    assert "Quill, Ada</a>" in shown
    assert "cannot be reached</span>" in shown
