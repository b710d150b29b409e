"""Correcting an operation and its construct."""

from datetime import date
from typing import Any

import pytest

from registry.errors import BadInput, StaleVersion
from registry.models import Construct, Procedure
from registry.services import procedures
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def correct(row: Procedure, version: int = 1, **values: Any) -> Procedure:
    return procedures.correct_procedure(
        procedure=row,
        values=values,
        expected_version=version,
        reason="typed wrongly",
        by=row.recorded_by,
        now=NOW,
        today=TODAY,
    )


def correct_construct(row: Construct, version: int = 1, **values: Any) -> Construct:
    return procedures.correct_construct(
        construct=row,
        values=values,
        departure_reasons={},
        expected_version=version,
        reason="typed wrongly",
        by=row.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_a_corrected_date_is_kept_with_the_reason() -> None:
    row = correct(builders.procedure(), performed_on=date(2026, 6, 9))
    assert Procedure.objects.get().performed_on == date(2026, 6, 9)
    assert row.version == 2


def test_a_date_before_the_injury_is_refused() -> None:
    with pytest.raises(BadInput, match="before the injury"):
        correct(builders.procedure(), performed_on=date(2026, 5, 1))
    assert Procedure.objects.get().performed_on == date(2026, 6, 5)


def test_correcting_over_a_newer_version_is_refused() -> None:
    row = builders.procedure()
    correct(Procedure.objects.get(pk=row.pk), note="theirs")
    with pytest.raises(StaleVersion):
        correct(row, note="mine")
    assert Procedure.objects.get().note == "theirs"


def test_a_corrected_construct_is_checked_afresh() -> None:
    facts = {"lateral_screw_count": 4, "lateral_screws_locking": "yes"}
    construct = builders.procedure(construct=facts).construct
    assert construct.departures.count() == 1
    correct_construct(construct, lateral_screw_count=6)
    assert construct.departures.count() == 0


def test_a_construct_corrected_over_a_newer_version_is_refused() -> None:
    construct = builders.procedure().construct
    correct_construct(Construct.objects.get(), plate_holes=5)
    with pytest.raises(StaleVersion):
        correct_construct(construct, plate_holes=7)
    assert Construct.objects.get().plate_holes == 5
