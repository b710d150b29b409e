"""Clinics, closed days, and what they do to what is planned."""

from datetime import date, time, timedelta
from typing import Any

import pytest

from followup.models import Clinic, ClosedDay, HeldDay, Review
from followup.services import calendars, reviews
from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, Person, Site
from registry.services import setup
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
    calendars.open_day(day=ClosedDay.objects.get(), by=administrator, now=NOW, today=TODAY)
    assert not ClosedDay.objects.exists()
    entry = AuditEntry.objects.get(table="followup_closedday", action="delete")
    assert (entry.person_id, entry.reason) == (administrator.pk, "opened again")


def filled(site: Site, by: Person, today: date = TODAY) -> calendars.Closed:
    return calendars.fill_holidays(site=site, by=by, now=NOW, today=today)


def closed_at(site: Site) -> set[date]:
    return set(ClosedDay.objects.filter(site=site).values_list("on", flat=True))


def test_public_holidays_are_filled_in_ahead_by_the_part_of_the_country(
    administrator: Person,
) -> None:
    south = builders.site("south", holiday_country="GB", holiday_subdivision="ENG")
    west = builders.site("west", holiday_country="GB", holiday_subdivision="SCT")
    for site in (south, west):
        filled(site, administrator)
    # Easter Monday of 2027 is a holiday in England alone, 2 January (a Saturday in 2027, so that it
    # is taken on Monday 4th) and St Andrew's Day in Scotland alone.
    assert closed_at(south) - closed_at(west) >= {date(2027, 3, 29), date(2028, 4, 17)}
    assert closed_at(west) - closed_at(south) >= {date(2026, 11, 30), date(2027, 1, 4)}
    assert {on.year for on in closed_at(south)} == {2026, 2027, 2028, 2029}
    assert filled(south, administrator) == calendars.Closed(0, 0, 0)
    assert set(ClosedDay.objects.values_list("is_public_holiday", flat=True)) == {True}


def test_a_site_that_moves_to_another_part_has_its_holidays_and_keeps_its_own_closed_days(
    administrator: Person,
) -> None:
    site = builders.site("west", holiday_country="GB", holiday_subdivision="ENG")
    close(administrator, date(2027, 3, 29), site)
    filled(site, administrator)
    site.holiday_subdivision = "SCT"
    filled(site, administrator)
    assert date(2026, 11, 30) in closed_at(site)
    assert date(2027, 3, 29) in closed_at(site)
    assert date(2028, 4, 17) not in closed_at(site)
    site.holiday_country = site.holiday_subdivision = ""
    filled(site, administrator)
    assert closed_at(site) == {date(2027, 3, 29)}


def test_a_place_that_is_not_known_closes_nothing_and_says_so(administrator: Person) -> None:
    for country, part, words in (
        ("QQ", "", "known for the country 'QQ'; correct it under Sites"),
        ("GB", "BY", "'BY' is not a part of 'GB'"),
    ):
        site = builders.site(
            f"place-{country.lower()}", holiday_country=country, holiday_subdivision=part
        )
        with pytest.raises(BadInput, match=words):
            filled(site, administrator)
    assert not ClosedDay.objects.exists()


def test_a_review_keeps_off_a_holiday_and_comes_back_when_clinic_is_held_on_it(
    administrator: Person,
) -> None:
    site = builders.site()
    site.holiday_country, site.holiday_subdivision = "GB", "ENG"
    site.save()
    # 12 months after 25 December 2025 is Christmas Day of 2026, a Friday.
    on = date(2025, 12, 20)
    hurt = builders.injury(builders.patient(site), injured_earliest=on, injured_latest=on)
    operation = builders.procedure(hurt, performed_on=date(2025, 12, 25))
    review = operation.reviews.get(step__code="12m")
    assert review.proposed_on == date(2026, 12, 25)
    assert filled(site, administrator).moved >= 1
    review.refresh_from_db()
    assert review.proposed_on == date(2026, 12, 24)
    day = ClosedDay.objects.get(site=site, on=date(2026, 12, 25))
    moved = calendars.open_day(day=day, by=administrator, now=NOW, today=TODAY)
    review.refresh_from_db()
    assert (moved, review.proposed_on) == (1, date(2026, 12, 25))
    # Neither the night nor the button of a year closes it again; a person may.
    filled(site, administrator)
    calendars.close_holidays(site=site, year=2026, by=administrator, now=NOW, today=TODAY)
    assert date(2026, 12, 25) not in closed_at(site)
    assert HeldDay.objects.get().holiday == "Christmas Day"
    close(administrator, date(2026, 12, 25), site)
    assert not HeldDay.objects.exists()


def saved(site: Site, by: Person, **values: Any) -> Site:
    return setup.save_site(
        site=site, values=values, expected_version=site.version, by=by, now=NOW, today=TODAY
    )


def test_a_site_is_closed_on_its_holidays_from_the_moment_it_is_added(
    administrator: Person,
) -> None:
    values = {"code": "west", "name": "West", "holiday_country": "GB", "holiday_subdivision": "ENG"}
    west = setup.add_site(values=values, by=administrator, now=NOW, today=TODAY)
    days = set(ClosedDay.objects.filter(site=west).values_list("on", flat=True))
    assert date(2026, 12, 25) in days
    assert len(days) == ClosedDay.objects.filter(is_public_holiday=True).count() > 20
    before = ClosedDay.objects.count()
    assert calendars.fill_every_site(by=administrator, now=NOW, today=TODAY) == 0
    assert ClosedDay.objects.count() == before


def test_another_country_closes_its_own_holidays_at_once(administrator: Person) -> None:
    west = saved(Site(code="west", name="West"), administrator, holiday_country="GB")
    boxing, unity = date(2026, 12, 25), date(2027, 10, 3)
    days = ClosedDay.objects.filter(site=west)
    assert (days.filter(on=boxing).exists(), days.filter(on=unity).exists()) == (True, False)
    saved(west, administrator, holiday_country="DE")
    assert days.filter(on=unity).exists()
    saved(west, administrator, holiday_country="")
    assert not days.exists()


def test_a_site_in_no_known_country_is_not_saved(administrator: Person) -> None:
    with pytest.raises(BadInput, match="no public holidays are known") as refusal:
        saved(Site(code="west", name="West"), administrator, holiday_country="QQ")
    assert set(refusal.value.faults) == {"holiday_country"}
    assert not Site.objects.filter(code="west").exists()


def test_a_site_out_of_use_is_left_alone(administrator: Person) -> None:
    site = Site(code="west", name="West", is_active=False)
    saved(site, administrator, holiday_country="GB")
    assert not ClosedDay.objects.exists()


def test_one_site_of_an_unknown_place_does_not_keep_the_others_waiting(
    administrator: Person, caplog: pytest.LogCaptureFixture
) -> None:
    builders.site("odd", holiday_country="QQ")
    builders.site("west", holiday_country="GB")
    assert calendars.fill_every_site(by=administrator, now=NOW, today=TODAY) > 20
    assert set(ClosedDay.objects.values_list("site__code", flat=True)) == {"west"}
    assert "no public holidays are known for the country 'QQ'" in caplog.text
