"""The clinic days of the sites that a person sets up."""

from datetime import date, time, timedelta
from typing import Any

import pytest

from followup.models import Clinic, ClosedDay, Review
from followup.selectors.calendars import site_days
from followup.services import reviews
from registry.models import Person
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def clinic(code: str = "north", **values: Any) -> Clinic:
    given = {"name": "Tuesday clinic", "weekday": 1, "starts_at": time(9), "slots": 12, **values}
    row: Clinic = Clinic.objects.create(site=builders.site(code), **given)
    return row


def booked(held: Clinic) -> date:
    """Book the review at 12 months of a new operation into a clinic; return the day."""
    review: Review = builders.procedure(performed_on=date(2026, 6, 5)).reviews.get(step__code="12m")
    on = review.opens_on + timedelta(days=(held.weekday - review.opens_on.weekday()) % 7)
    reviews.book(
        review=review,
        clinic=held,
        on=on,
        at=time(9),
        expected_version=review.version,
        by=review.recorded_by,
        now=NOW,
        today=TODAY,
    )
    return on


def test_only_the_sites_that_one_sets_up_are_shown(administrator: Person) -> None:
    clinic()
    clinic("south")
    lines = site_days(administrator, TODAY)
    assert [line.site.code for line in lines] == ["north"]
    assert [(one.clinic.name, one.weekday) for one in lines[0].clinics] == [
        ("Tuesday clinic", "Tuesday")
    ]


def test_slots_on_a_closed_day_are_counted_and_past_days_left_out(administrator: Person) -> None:
    on = booked(clinic())
    for day in (on, on + timedelta(days=1), TODAY - timedelta(days=1)):
        ClosedDay.objects.create(site=builders.site(), on=day, reason="audit day")
    (line,) = site_days(administrator, TODAY)
    assert [(one.day.on, one.booked) for one in line.closed] == [
        (on, 1),
        (on + timedelta(days=1), 0),
    ]


@pytest.mark.parametrize("change", [{"weekday": 2}, {"is_active": False}])
def test_slots_of_a_clinic_that_moved_or_ended_are_counted(
    administrator: Person, change: dict[str, Any]
) -> None:
    held = clinic()
    booked(held)
    assert site_days(administrator, TODAY)[0].clinics[0].stranded == 0
    Clinic.objects.filter(pk=held.pk).update(**change)
    assert site_days(administrator, TODAY)[0].clinics[0].stranded == 1
