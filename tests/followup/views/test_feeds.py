"""A calendar program that polls an address, and the people who make and revoke addresses."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
import vobject
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from followup.models import CalendarFeed, CalendarPolicy
from followup.services import feeds, reviews
from registry.models import AuditEntry, Person
from tests import builders
from tests.builders import NOW, booked
from tests.followup.waiting import TUESDAY, waiting
from tests.looked import named_on

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def clock() -> Iterator[Any]:
    cache.clear()
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def address(by: Person) -> str:
    clinic = builders.site().clinics.first() or builders.clinic()
    token = feeds.issue(site=builders.site(), clinic=clinic, by=by, now=NOW)
    return reverse("calendar-feed", args=[token])


def test_a_program_follows_a_booking_through_a_move_and_a_cancellation(
    coordinator: Person, clock: Any
) -> None:
    url, review, program = address(coordinator), waiting(), Client()
    clinic = builders.site().clinics.get()
    seen = []
    for step in range(3):
        clock.move_to(NOW + timedelta(hours=step))
        review.refresh_from_db()
        if step < 2:
            booked(review, on=TUESDAY + timedelta(weeks=step), where=clinic)
        else:
            reviews.cancel(review=review, expected_version=review.version, by=coordinator, now=NOW)
        answer = program.get(url)
        assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
        entry = vobject.readOne(answer.content.decode()).vevent
        seen.append((entry.uid.value, int(entry.sequence.value), entry.status.value))
        when = TUESDAY + timedelta(weeks=min(step, 1))
        assert entry.dtstart.value.date() == when
    assert len({uid for uid, _, _ in seen}) == 1
    numbers = [number for _, number, _ in seen]
    assert numbers == sorted(set(numbers))
    assert [status for _, _, status in seen] == ["CONFIRMED", "CONFIRMED", "CANCELLED"]


def test_polling_what_has_not_changed_is_answered_in_a_line(
    coordinator: Person, clock: Any, counted: Callable[[], Any]
) -> None:
    url, program, review = address(coordinator), Client(), waiting()
    booked(review, where=builders.site().clinics.get())
    first = program.get(url)
    clock.move_to(NOW + timedelta(minutes=10))
    tag, since = first.headers["ETag"], first.headers["Last-Modified"]
    with counted() as queries:
        again = program.get(url, headers={"If-None-Match": tag})
    assert (again.status_code, again.content, len(queries)) == (304, b"", 4)
    assert again.headers["ETag"] == tag
    assert program.get(url, headers={"If-Modified-Since": since}).status_code == 304
    # What shows nothing in the row itself counts as well: names, the clinic's own times.
    CalendarPolicy.objects.create(site=builders.site(), shows_names=True)
    clock.move_to(NOW + timedelta(minutes=20))
    assert program.get(url, headers={"If-Modified-Since": since}).status_code == 200
    changed = program.get(url, headers={"If-None-Match": tag})
    assert changed.status_code == 200
    assert changed.headers["ETag"] != tag
    assert CalendarFeed.objects.get().last_used_at == NOW


def test_an_address_that_is_none_is_answered_like_one_that_was_revoked(
    coordinator: Person,
) -> None:
    url = address(coordinator)
    unknown = Client().get(reverse("calendar-feed", args=["x" * 43]))
    feeds.revoke(feed=CalendarFeed.objects.get(), by=coordinator, now=NOW)
    revoked = Client().get(url)
    assert unknown.status_code == revoked.status_code == 404
    assert unknown.content == revoked.content == b"There is no calendar here.\n"
    # Each answer has a number of its own.
    numbers = {answer.headers.pop("X-Request-ID") for answer in (unknown, revoked)}
    assert len(numbers) == 2
    assert unknown.headers.items() == revoked.headers.items()


def test_an_owner_who_left_leaves_no_calendar_behind(coordinator: Person) -> None:
    url = address(coordinator)
    assert Client().get(url).status_code == 200
    Person.objects.filter(pk=coordinator.pk).update(is_active=False)
    assert Client().get(url).status_code == 404


def test_a_program_gone_wild_is_told_to_wait(coordinator: Person) -> None:
    url, program = address(coordinator), Client()
    codes = [program.get(url).status_code for _ in range(61)]
    assert codes == [200] * 60 + [429]
    assert program.get(url).headers["Retry-After"] == "600"
    assert Client().get(address(builders.person("corin", north="coordinator"))).status_code == 200


def test_nothing_keeps_a_calendar_that_was_read(coordinator: Person) -> None:
    headers = Client().get(address(coordinator)).headers
    assert headers["Cache-Control"] == "private, no-cache"
    assert headers["X-Robots-Tag"] == "noindex, nofollow"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert "Set-Cookie" not in headers


def test_an_address_is_made_shown_once_and_revoked(coordinator: Person) -> None:
    clinic, client = builders.clinic(name="Tuesdays"), signed_in(coordinator)
    make = reverse("calendar-make", args=[clinic.site_id])
    shown = client.post(make, {"clinic": clinic.pk})
    row = CalendarFeed.objects.get()
    assert shown.headers["Cache-Control"] == "no-store"
    page = shown.content.decode()
    start = page.index("/calendars/" + row.begins)
    url = page[start : page.index('"', start)]
    assert Client().get(url).status_code == 200
    listed = client.get(reverse("calendars")).content.decode()
    assert url not in listed
    assert f"begins {row.begins}" in listed
    done = client.post(reverse("calendar-revoke", args=[row.pk]), follow=True)
    assert f"The address {row.begins}... of Tuesdays works no more." in done.content.decode()
    assert Client().get(url).status_code == 404


def test_only_a_surgeon_has_appointments_of_their_own(coordinator: Person, surgeon: Person) -> None:
    make = reverse("calendar-make", args=[builders.site().pk])
    assert signed_in(coordinator).post(make).status_code == 403
    assert signed_in(surgeon).post(make).status_code == 200
    assert signed_in(surgeon).post(make, {"clinic": "x"}).status_code == 404
    assert CalendarFeed.objects.get().clinic is None


def test_nobody_revokes_a_colleagues_address_but_the_administrator(
    coordinator: Person, surgeon: Person, administrator: Person
) -> None:
    url = address(coordinator)
    row = CalendarFeed.objects.get()
    assert signed_in(surgeon).post(reverse("calendar-revoke", args=[row.pk])).status_code == 404
    office = signed_in(administrator)
    assert row.begins in office.get(reverse("setup-calendars")).content.decode()
    assert office.post(reverse("setup-calendar-revoke", args=[row.pk])).status_code == 302
    assert Client().get(url).status_code == 404
    assert "Nobody at your sites" in office.get(reverse("setup-calendars")).content.decode()


def test_names_are_allowed_with_a_caution(administrator: Person) -> None:
    office = signed_in(administrator)
    url = reverse("setup-calendar-names", args=[builders.site().pk])
    assert "Caution: whoever has the address" in office.get(url).content.decode()
    done = office.post(url, {"version": 1, "shows_names": "on"}, follow=True)
    assert "Calendars of North Hospital show patients" in done.content.decode()
    assert CalendarPolicy.objects.get().shows_names
    stale = office.post(url, {"version": 7}, follow=True)
    assert stale.status_code == 409
    assert CalendarPolicy.objects.get().shows_names


def test_whom_a_calendar_with_names_told_is_written_down_for_its_owner(
    coordinator: Person,
) -> None:
    url, review = address(coordinator), waiting()
    booked(review, on=TUESDAY, where=builders.site().clinics.get())
    Client().get(url)
    assert named_on("calendar-feed") == []
    CalendarPolicy.objects.create(site=builders.site(), shows_names=True)
    answer = Client().get(url)
    assert named_on("calendar-feed") == [[review.procedure.injury.patient.key]]
    assert AuditEntry.objects.get(reason="calendar-feed").person_id == coordinator.pk
    same = Client().get(url, headers={"If-None-Match": answer.headers["ETag"]})
    assert (same.status_code, len(named_on("calendar-feed"))) == (304, 1)
