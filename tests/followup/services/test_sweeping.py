"""The nightly look over every review."""

from datetime import date

import pytest

from followup.models import ClosedDay, Review
from followup.services import sweeping
from registry.models import AuditEntry
from registry.services import patients
from registry.services.background import background_person
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def unplanned() -> None:
    """Record an operation that was never planned, as from before there was a protocol for it."""
    builders.procedure(performed_on=date(2026, 6, 5))
    Review.objects.all().delete()


def test_an_operation_without_reviews_is_planned_and_what_has_closed_lapses() -> None:
    unplanned()
    done = sweeping.sweep(now=NOW, today=TODAY)
    assert done.planned == 1
    assert done.lapsed == Review.objects.filter(state="lapsed").count() > 0
    assert not Review.objects.filter(state="planned", closes_on__lt=TODAY).exists()
    assert Review.objects.filter(state="planned").exists()


def test_what_is_proposed_on_a_day_without_a_clinic_moves_at_night() -> None:
    review = builders.procedure().reviews.get(step__code="12m")
    ClosedDay.objects.create(site=review.site, on=review.proposed_on, reason="moving house")
    assert sweeping.sweep(now=NOW, today=TODAY).moved == 1
    assert sweeping.sweep(now=NOW, today=TODAY).moved == 0
    moved = Review.objects.get(pk=review.pk)
    assert moved.opens_on <= moved.proposed_on <= moved.closes_on
    assert moved.proposed_on != review.proposed_on


def test_sweeping_twice_changes_nothing() -> None:
    unplanned()
    sweeping.sweep(now=NOW, today=TODAY)
    before = AuditEntry.objects.count()
    assert sweeping.sweep(now=NOW, today=TODAY) == sweeping.Swept(
        planned=0, moved=0, lapsed=0, completed=0
    )
    assert AuditEntry.objects.count() == before


def test_nothing_is_planned_for_somebody_who_has_died() -> None:
    operation = builders.procedure()
    patient = operation.injury.patient
    patients.change_status(
        patient=patient,
        status="died",
        on=date(2026, 7, 10),
        note="",
        expected_version=patient.version,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )
    Review.objects.all().delete()
    assert sweeping.sweep(now=NOW, today=TODAY).planned == 0


def test_what_is_done_at_night_is_written_down_under_the_service_itself() -> None:
    unplanned()
    sweeping.sweep(now=NOW, today=TODAY)
    assert {review.changed_by for review in Review.objects.all()} == {background_person()}


def test_public_holidays_are_filled_in_at_night_and_an_unknown_place_stops_nothing(
    caplog: pytest.LogCaptureFixture,
) -> None:
    builders.site("south", holiday_country="GB", holiday_subdivision="ENG")
    builders.site("west", holiday_country="QQ")
    for _ in range(2):
        sweeping.sweep(now=NOW, today=TODAY)
        assert ClosedDay.objects.filter(site__code="south", on=date(2026, 12, 25)).count() == 1
    assert not ClosedDay.objects.filter(site__code="west").exists()
    assert "known for the country 'QQ'" in caplog.text
