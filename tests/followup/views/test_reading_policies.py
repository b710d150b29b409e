"""Each site's policy of second readings under Setup."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import ReadingPolicy
from registry.models import Person
from tests import builders

pytestmark = pytest.mark.django_db
SENT = {
    "version": "1",
    "draw": "share",
    "share_pct": "15",
    "seed": "autumn",
    "taken_from": "2026-09-01",
    "near_change_mm": "3",
    "near_ratio_pct": "25",
    "near_margin_pct": "20",
    "mdc_mm": "1.8",
    "third_mm": "2",
    "third_pct": "20",
}


def send(client: Client, **values: str) -> Any:
    where = reverse("setup-readings-site", args=[builders.site().pk])
    return client.post(where, {**SENT, **values}, follow=True)


def said(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_a_policy_is_set_and_shown(client: Client, administrator: Person) -> None:
    client.force_login(administrator)
    assert "as shipped" in said(client.get(reverse("setup-readings")))
    shown = said(send(client))
    assert "A random share: 15 %, drawn from 'autumn'; films from 1 Sep 2026" in shown
    assert "1.8 mm" in shown
    assert "as shipped" not in shown
    assert ReadingPolicy.objects.get().share_pct == 15


def test_near_a_threshold_says_which(client: Client, administrator: Person) -> None:
    client.force_login(administrator)
    shown = said(send(client, draw="near"))
    assert "3.0 mm within 1.8 mm, or 25.0 % within 20.0 points" in shown


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"share_pct": "0"}, "greater than or equal to 1"),
        ({"share_pct": "101"}, "less than or equal to 100"),
        ({"draw": "most"}, "is not one of the available choices"),
        ({"taken_from": "autumn"}, "possible date"),
        ({"seed": ""}, "This field is required"),
        ({"third_mm": "0"}, "greater than or equal to 0.1"),
    ],
)
def test_a_policy_that_makes_no_sense_is_refused_by_its_field(
    client: Client, administrator: Person, values: dict[str, str], says: str
) -> None:
    client.force_login(administrator)
    assert says in send(client, **values).content.decode()
    assert not ReadingPolicy.objects.exists()


def test_a_policy_over_a_newer_one_shows_both(client: Client, administrator: Person) -> None:
    client.force_login(administrator)
    send(client)
    ReadingPolicy.objects.update(version=5, share_pct=40)
    answer = send(client)
    assert answer.status_code == 409
    assert "Somebody else saved this first" in answer.content.decode()
