"""The invented coordinator's tries, views and tasks."""

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from config.demo import reaching
from config.demo.load import Wanted, load
from followup.models import ReviewSum, SavedFilter, Task, Unreachable
from registry.models import AlternativeContact, Person
from tests import builders
from tests.builders import NOW, TODAY


@pytest.mark.django_db
@time_machine.travel(NOW)
def test_the_demo_shows_who_cannot_be_reached_and_what_is_to_be_done(client: Client) -> None:
    builders.load_defaults()
    load(Wanted(procedures=90), now=NOW, today=TODAY, whole=True)
    assert Unreachable.objects.filter(ended_on=None).exists()
    assert AlternativeContact.objects.exists()
    assert SavedFilter.objects.count() == len(reaching.VIEWS)
    assert Task.objects.filter(done_at=None).count() >= len(reaching.ERRANDS)
    assert ReviewSum.objects.exists()
    client.force_login(Person.objects.get(username="coordinator"))
    shown = client.get(reverse("due"), {"show": "unreachable"}).content.decode()
    assert "tries in 16 days without an answer (phone call" in shown
    assert ", after 3 tries; the last, by phone call" in client.get(reverse("due")).content.decode()
