"""Setting up clinics and closed days."""

from datetime import date, time, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Clinic, ClosedDay
from registry.models import Person, Site
from tests import builders
from tests.builders import TODAY

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def here(client: Client, administrator: Person) -> Client:
    client.force_login(administrator)
    return client


def clinic(**changes: Any) -> dict[str, Any]:
    return {
        "version": "1",
        "name": "Fracture clinic",
        "weekday": "1",
        "starts_at": "09:00",
        "slots": "12",
        "slot_minutes": "10",
        "surgeon": "",
        "is_active": "on",
        **changes,
    }


def add_clinic(client: Client, **changes: Any) -> Any:
    where = reverse("setup-clinic-add", args=[builders.site().pk])
    return client.post(where, clinic(**changes))


def test_a_site_without_a_clinic_is_told_what_one_is_for(here: Client) -> None:
    page = here.get(reverse("setup-clinics")).content.decode()
    assert "reviews are proposed from Monday to Friday" in page
    assert reverse("setup-clinic-add", args=[builders.site().pk]) in page
    assert reverse("setup-clinics") in here.get(reverse("setup")).content.decode()


def test_a_clinic_is_added_with_its_surgeon_and_listed(here: Client, surgeon: Person) -> None:
    assert add_clinic(here, surgeon=surgeon.pk).status_code == 302
    page = here.get(reverse("setup-clinics")).content.decode()
    for words in ("Fracture clinic", "Tuesday", "09:00", "12 of 10 minutes", "Selma"):
        assert words in page


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"slots": "0"}, "greater than or equal to 1"),
        ({"slots": "200", "slot_minutes": "10"}, "would end after midnight"),
        ({"starts_at": "late"}, "Write a time of day"),
        ({"weekday": "7"}, "not one of the available choices"),
        ({"name": ""}, "This field is required"),
    ],
)
def test_a_faulty_clinic_is_refused_by_its_field_and_keeps_what_was_typed(
    here: Client, changes: dict[str, str], words: str
) -> None:
    page = add_clinic(here, **{"name": "Typed once", **changes}).content.decode()
    assert words in page
    assert "Typed once" in page or changes.get("name") == ""
    assert not Clinic.objects.exists()


def test_a_surgeon_of_another_site_is_not_offered(here: Client, outsider: Person) -> None:
    page = add_clinic(here, surgeon=outsider.pk).content.decode()
    assert "not one of the available choices" in page


def test_two_administrators_see_both_versions_of_a_clinic(here: Client) -> None:
    add_clinic(here)
    where = reverse("setup-clinic", args=[Clinic.objects.get().pk])
    here.post(where, clinic(weekday="2"))
    answer = here.post(where, clinic(weekday="3"))
    assert answer.status_code == 409
    assert "<td>Wednesday</td><td>Thursday</td>" in answer.content.decode()
    here.post(where, clinic(weekday="3", version="2"))
    assert Clinic.objects.values_list("weekday", "version").get() == (3, 3)


def test_a_day_is_closed_and_opened_again(here: Client) -> None:
    where = reverse("setup-day-close", args=[builders.site().pk])
    page = here.post(where, {"on": "2026-11-24", "reason": "audit"}).content.decode()
    assert "24 Nov 2026 has passed" in page
    here.post(where, {"on": "2026-12-01", "reason": "audit day"})
    page = here.get(reverse("setup-clinics")).content.decode()
    assert "Tue 1 Dec 2026" in page
    assert "audit day" in page
    again = reverse("setup-day-open", args=[ClosedDay.objects.get().pk])
    assert here.get(again).status_code == 405
    page = here.post(again, follow=True).content.decode()
    assert "holds clinic on 01 Dec 2026" in page
    assert not ClosedDay.objects.exists()


def test_public_holidays_are_closed_where_the_country_is_named(here: Client) -> None:
    site = builders.site()
    where = reverse("setup-holidays-close", args=[site.pk])
    assert where not in here.get(reverse("setup-clinics")).content.decode()
    assert "names no country" in here.post(where, {"year": "2027"}).content.decode()
    Site.objects.filter(pk=site.pk).update(holiday_country="GB", holiday_subdivision="ENG")
    assert where in here.get(reverse("setup-clinics")).content.decode()
    page = here.post(where, {"year": "2027"}, follow=True).content.decode()
    assert "public holidays added" in page
    assert "New Year" in page


@pytest.mark.parametrize(
    "name", ["setup-clinics", "setup-clinic-add", "setup-day-close", "setup-holidays-close"]
)
def test_only_an_administrator_sets_clinics_up(client: Client, surgeon: Person, name: str) -> None:
    client.force_login(surgeon)
    site = [] if name == "setup-clinics" else [builders.site().pk]
    assert client.get(reverse(name, args=site)).status_code == 403


def test_another_sites_clinics_and_days_are_not_there(here: Client) -> None:
    south = builders.site("south")
    held = Clinic.objects.create(site=south, name="Theirs", weekday=1, starts_at=time(9), slots=5)
    closed = ClosedDay.objects.create(site=south, on=TODAY, reason="moving house")
    assert "Theirs" not in here.get(reverse("setup-clinics")).content.decode()
    assert here.post(reverse("setup-clinic", args=[held.pk]), clinic()).status_code == 404
    assert here.post(reverse("setup-day-open", args=[closed.pk])).status_code == 404
    assert here.get(reverse("setup-day-close", args=[south.pk])).status_code == 404


def test_the_page_costs_the_same_for_ten_and_for_two_hundred(here: Client, counted: Any) -> None:
    site, cost = builders.site(), []
    for number in (10, 200):
        for index in range(Clinic.objects.count(), number):
            Clinic.objects.create(
                site=site, name=f"Clinic {index}", weekday=1, starts_at=time(9), slots=5
            )
            ClosedDay.objects.create(site=site, on=TODAY + timedelta(days=index), reason="closed")
        with counted() as queries:
            here.get(reverse("setup-clinics"))
        cost.append(len(queries))
    assert cost[0] == cost[1]


def test_clinic_is_held_on_a_public_holiday_all_the_same(here: Client) -> None:
    site = builders.site()
    day = ClosedDay.objects.create(
        site=site, on=date(2026, 12, 25), reason="Christmas Day", is_public_holiday=True
    )
    assert "Hold clinic all the same" in here.get(reverse("setup-clinics")).content.decode()
    page = here.post(reverse("setup-day-open", args=[day.pk]), follow=True).content.decode()
    assert "holds clinic on 25 Dec 2026, though it is a public holiday (Christmas Day)" in page
    assert "Clinic is held all the same on Fri 25 Dec 2026 (Christmas Day)" in page
