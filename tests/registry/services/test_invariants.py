"""What rules are made of."""

import pytest
from django.db import models

from registry.models import Site
from registry.services.invariants import asked, broken_by, room_models
from tests import builders

pytestmark = pytest.mark.django_db


def test_each_row_that_breaks_a_rule_is_named_by_table_and_key() -> None:
    north, south = builders.site("north"), builders.site("south")
    found = [(one.where, one.what) for one in broken_by(Site.objects.all(), "it is a site")]
    assert found == [
        (f"registry_site {north.pk}", "it is a site"),
        (f"registry_site {south.pk}", "it is a site"),
    ]


def test_a_query_of_our_own_is_given_row_by_row() -> None:
    builders.site("north")
    assert list(asked("SELECT code FROM registry_site WHERE code = %s", ["north"])) == [("north",)]


def test_the_models_of_the_rooms_hold_the_links_between_two_and_no_others() -> None:
    tables = {model._meta.db_table for model in room_models()}
    assert {
        "registry_patient",
        "followup_film",
        "analytics_pack",
        "followup_reply_patients",
    } <= tables
    assert "django_session" not in tables
    assert all(issubclass(model, models.Model) for model in room_models())
