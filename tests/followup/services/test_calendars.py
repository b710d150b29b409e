"""Clinics, closed days, and what they do to what is planned."""

from datetime import date, time, timedelta
from typing import Any

import pytest

from followup.models import Clinic, ClosedDay, Review
from followup.services import calendars, reviews
from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, Person, Site
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def clinic(by: Person, site: Site | None = None, **values: Any) -> Clinic:
    given = {
        "name": "Fracture clinic",
        "weekday": 1,
        "starts_at": time(9),
        "slots": 12,
        "slot_minutes": 10,
        **values,
    }
    row = Clinic(site=site or builders.site())
    return calendars.save_clinic(clinic=row, values=given, expected_version=1, by=by)


def close(by: Person, on: date, site: Site | None = None) -> calendars.Closed:
    return calendars.close_day(
        site=site or builders.site(), on=on, reason="audit day", by=by, now=NOW, today=TODAY
    )


def next_year() -> Review:
    """Return the review at 12 months of an operation of 5 June 2026: due 5 June 2027, a Saturday."""
    review: Review = builders.procedure(performed_on=date(2026, 6, 5)).reviews.get(step__code="12m")
    return review


def test_a_clinic_is_saved_only_over_the_version_that_was_seen(administrator: Person) -> None:
    row = clinic(administrator)
    calendars.save_clinic(clinic=row, values={"weekday": 3}, expected_version=1, by=administrator)
    assert Clinic.objects.values_list("weekday", "version").get() == (3, 2)
    with pytest.raises(StaleVersion, match="it is now 2"):
        calendars.save_clinic(
            clinic=Clinic.objects.get(), values={"slots": 9}, expected_version=1, by=administrator
        )
    assert Clinic.objects.get().slots == 12


def test_a_site_has_one_clinic_of_a_name(administrator: Person) -> None:
    clinic(administrator)
    clinic(administrator, site=builders.site("south"))
    with pytest.raises(BadInput, match="has a clinic called 'Fracture clinic' already"):
        clinic(administrator)


def test_closing_a_day_moves_what_was_proposed_for_it_inside_the_window(
    administrator: Person,
) -> None:
    review = next_year()
    assert close(administrator, review.proposed_on) == calendars.Closed(days=1, moved=1, booked=0)
    moved = Review.objects.get(pk=review.pk)
    assert moved.proposed_on != review.proposed_on
    assert moved.opens_on <= moved.proposed_on <= moved.closes_on


def test_a_day_closed_at_another_site_moves_nothing_here(administrator: Person) -> None:
    review = next_year()
    assert close(administrator, review.proposed_on, builders.site("south")).moved == 0


def test_a_booked_slot_stays_on_a_closed_day_and_is_counted(administrator: Person) -> None:
    review = next_year()
    held = clinic(administrator, weekday=review.proposed_on.weekday())
    reviews.book(
        review=review,
        clinic=held,
        on=review.proposed_on,
        at=time(9),
        expected_version=review.version,
        by=administrator,
        now=NOW,
        today=TODAY,
    )
    assert close(administrator, review.proposed_on) == calendars.Closed(days=1, moved=0, booked=1)


def test_a_day_that_has_passed_or_is_closed_is_refused(administrator: Person) -> None:
    with pytest.raises(BadInput, match="24 Nov 2026 has passed"):
        close(administrator, TODAY - timedelta(days=1))
    close(administrator, TODAY)
    with pytest.raises(BadInput, match="closed on 25 Nov 2026 already"):
        close(administrator, TODAY)


def test_the_public_holidays_to_come_are_closed_once(administrator: Person) -> None:
    site = builders.site("west", holiday_country="GB", holiday_subdivision="ENG")
    for days in (3, 0):
        done = calendars.close_holidays(
            site=site, year=2026, by=administrator, now=NOW, today=TODAY
        )
        assert done.days == days
    closed = dict(ClosedDay.objects.values_list("on", "reason"))
    # 26 December 2026 is a Saturday, so that its holiday is taken on Monday 28th.
    assert closed[date(2026, 12, 25)] == "Christmas Day"
    assert date(2026, 6, 5) not in closed


def test_holidays_need_a_country_and_a_year_that_is_known(administrator: Person) -> None:
    for site, year, words in (
        (builders.site(), 2026, "names no country"),
        (builders.site("west", holiday_country="XK"), 1900, "are known in 1900"),
    ):
        with pytest.raises(BadInput, match=words):
            calendars.close_holidays(site=site, year=year, by=administrator, now=NOW, today=TODAY)


def test_a_day_opened_again_is_gone_but_stays_in_the_trail(administrator: Person) -> None:
    close(administrator, TODAY)
    calendars.open_day(day=ClosedDay.objects.get(), by=administrator)
    assert not ClosedDay.objects.exists()
    entry = AuditEntry.objects.get(table="followup_closedday", action="delete")
    assert (entry.person_id, entry.reason) == (administrator.pk, "opened again")
