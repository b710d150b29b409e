"""Setting a site's rule of union."""

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import UnionRule
from registry.models import Person
from tests import builders

pytestmark = pytest.mark.django_db


def where() -> str:
    return reverse("setup-union-site", args=[builders.site().pk])


def test_a_site_says_when_a_fracture_is_united(client: Client, administrator: Person) -> None:
    client.force_login(administrator)
    assert "as shipped" in client.get(reverse("setup-union")).content.decode()
    sent = {"version": "1", "min_bridged_cortices": "2"}
    page = client.post(where(), sent, follow=True).content.decode()
    assert "2 of 4 cortices bridged" in page
    assert "as shipped" not in page
    assert UnionRule.objects.get().min_bridged_cortices == 2


def test_an_impossible_number_and_an_old_version_are_refused(
    client: Client, administrator: Person
) -> None:
    client.force_login(administrator)
    answer = client.post(where(), {"version": "1", "min_bridged_cortices": "5"})
    assert "less than or equal to 4" in answer.content.decode()
    UnionRule.objects.create(site=builders.site(), min_bridged_cortices=4, version=2)
    answer = client.post(where(), {"version": "1", "min_bridged_cortices": "3"})
    assert answer.status_code == 409
    assert UnionRule.objects.get().min_bridged_cortices == 4
