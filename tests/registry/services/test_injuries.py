"""Correcting an injury."""

from datetime import date
from typing import Any

import pytest

from registry.errors import BadInput, StaleVersion
from registry.models import Injury
from registry.services import injuries
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def correct(row: Injury, version: int = 1, **values: Any) -> Injury:
    return injuries.correct_injury(
        injury=row,
        values=values,
        expected_version=version,
        reason="typed wrongly",
        by=row.recorded_by,
        now=NOW,
        today=TODAY,
    )


def on(day: date) -> dict[str, date]:
    return {"injured_earliest": day, "injured_latest": day}


def test_the_age_at_injury_follows_its_corrected_date() -> None:
    correct(builders.injury(), **on(date(2020, 6, 1)))
    assert Injury.objects.get().age_years == 40


@pytest.mark.parametrize(
    ("day", "words"),
    [
        (date(2026, 11, 26), "in the future"),
        (date(1979, 1, 1), "before the patient's birth"),
        (date(2026, 6, 6), "after the first operation"),
    ],
)
def test_an_impossible_date_is_refused(day: date, words: str) -> None:
    hurt = builders.procedure().injury
    with pytest.raises(BadInput, match=words):
        correct(hurt, **on(day))
    assert Injury.objects.get().version == 1


def test_correcting_over_a_newer_version_is_refused() -> None:
    hurt = builders.injury()
    correct(Injury.objects.get(), energy="high")
    with pytest.raises(StaleVersion):
        correct(hurt, energy="low")
    assert Injury.objects.get().energy == "high"
