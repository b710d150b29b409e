"""How old the newest copy is, and when that is to be looked at."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from config.copies import shelf
from registry.models import Person
from tests.builders import NOW


def test_a_copy_that_is_older_than_a_day_and_a_half_is_a_concern(
    settings: Any, tmp_path: Path
) -> None:
    assert shelf.concern(NOW) == ""
    assert "not set" in shelf.state_in_words(NOW)
    settings.COPIES_DIR, settings.COPIES_FOR = str(tmp_path), ["age1x"]
    assert "no copy of the records yet" in shelf.concern(NOW)
    assert shelf.state_in_words(NOW) == "none yet"
    (tmp_path / shelf.name_at(NOW - timedelta(hours=60))).touch()
    (tmp_path / f"{shelf.name_at(NOW)}.begun").touch()
    assert "is 2.5 days old" in shelf.concern(NOW)
    (tmp_path / shelf.name_at(NOW - timedelta(hours=36))).touch()
    assert shelf.concern(NOW) == ""
    assert shelf.state_in_words(NOW) == "36 h ago, holdfast-20261123T210000Z.age"
    (tmp_path / shelf.name_at(NOW - timedelta(minutes=5))).touch()
    assert shelf.state_in_words(NOW).startswith("5 min ago")


@pytest.mark.django_db
def test_the_page_of_the_background_shows_and_warns(
    administrator: Person, client: Client, settings: Any, tmp_path: Path
) -> None:
    client.force_login(administrator)
    settings.COPIES_DIR, settings.COPIES_FOR = str(tmp_path), ["age1x"]
    (tmp_path / shelf.name_at(NOW - timedelta(days=900))).touch()
    shown = client.get(reverse("background")).content.decode()
    assert "Newest copy of the records" in shown
    assert "run keep_copy and see what it says" in shown
