from datetime import date

import pytest

from followup.models import Reading
from followup.services import films
from registry.errors import StaleVersion
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def test_a_reading_is_corrected_as_often_as_it_takes() -> None:
    hurt = builders.injury()
    at = {"by": hurt.recorded_by, "now": NOW, "today": TODAY}
    film = films.record_film(
        injury=hurt, values={"taken_on": date(2026, 7, 17), "view": "ap"}, **at
    )
    rows = [
        films.record_reading(
            film=film, values={"translation_pct": share}, reader=hurt.recorded_by, **at
        )
        for share in (10, 20, 30, 40)
    ]
    for row in rows:
        row.refresh_from_db()
    assert [row.superseded_by for row in rows] == [*rows[1:], None]
    assert Reading.objects.get(superseded_by__isnull=True).translation_pct == 40


def test_a_row_that_somebody_else_superseded_stays_theirs() -> None:
    hurt = builders.injury()
    at = {"by": hurt.recorded_by, "now": NOW, "today": TODAY}
    film = films.record_film(
        injury=hurt, values={"taken_on": date(2026, 7, 17), "view": "ap"}, **at
    )
    films.record_reading(film=film, values={}, reader=hurt.recorded_by, **at)
    with pytest.raises(StaleVersion):
        films.record_reading(
            film=film, values={}, reader=hurt.recorded_by, expected_version=7, **at
        )
    assert Reading.objects.count() == 1
