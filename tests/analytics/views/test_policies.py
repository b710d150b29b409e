"""Under Setup: the policy of monitoring of each site."""

import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from analytics.models import MonitoringPolicy
from registry.models import Person
from tests import builders
from tests.analytics import monitored

pytestmark = pytest.mark.django_db
TEXT = "Only the lead sees all of us."


@pytest.fixture
def setup(client: Client, administrator: Person) -> Client:
    client.force_login(administrator)
    return client


def text(answer: Any) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


def test_both_are_off_until_a_policy_is_put_in_force(setup: Client) -> None:
    assert "none: both are off" in text(setup.get(reverse("setup-monitoring")))
    url = reverse("setup-monitoring-site", args=[builders.site().pk])
    answer = setup.post(url, {"version": "0", "text": TEXT, "charts": "on"})
    assert answer.status_code == 302
    said = text(setup.get(reverse("setup-monitoring")))
    assert "running charts" in said
    assert "funnels of surgeons" not in said.split("In force")[1]
    assert TEXT in said
    assert "Monitoring" in text(setup.get(reverse("setup")))


def test_a_policy_without_effect_is_refused_by_its_field(setup: Client) -> None:
    url = reverse("setup-monitoring-site", args=[builders.site().pk])
    assert "Say what the policy switches on" in text(
        setup.post(url, {"version": "0", "text": TEXT})
    )
    assert not MonitoringPolicy.objects.exists()


def test_whoever_comes_second_sees_both_texts(setup: Client) -> None:
    site = builders.site()
    monitored.policy(site)
    url = reverse("setup-monitoring-site", args=[site.pk])
    answer = setup.post(url, {"version": "0", "text": TEXT, "charts": "on"})
    assert answer.status_code == 409
    assert "nobody is named" in text(answer)


def test_a_policy_ends_with_a_reason_and_is_kept(setup: Client) -> None:
    site = builders.site()
    monitored.policy(site)
    url = reverse("setup-monitoring-end", args=[site.pk])
    assert setup.post(url, {"version": "1", "because": ""}).status_code == 200
    assert setup.post(url, {"version": "1", "because": "under revision"}).status_code == 302
    said = text(setup.get(reverse("setup-monitoring")))
    assert "none: both are off" in said
    assert "ended 25" in said or "under revision" in said


def test_a_quality_lead_sets_no_policy(client: Client, quality_lead: Person) -> None:
    client.force_login(quality_lead)
    assert client.get(reverse("setup-monitoring")).status_code == 403
