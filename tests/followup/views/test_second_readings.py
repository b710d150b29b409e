"""Reading a film a second time: what is taken, and what of it stays hidden wherever one goes."""

import re
from datetime import date
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Film, Reading, WantedReading
from followup.services import second_readings as service
from registry.models import Person
from tests import builders
from tests.builders import NOW
from tests.followup import pictured
from tests.followup.pictured import HEADER, POINTS, calibrate, image
from tests.followup.twice import film, policy, read, readers
from tests.followup.views.test_films import typed

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]
TAKEN_ON = date(2026, 7, 17)


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW)


def text(answer: Any) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


def page_of(answer: Any) -> str:
    """Return a page without its random tokens, in which two letters stand by chance now and then."""
    return re.sub(r"\b\w{32,}\b", "", answer.content.decode())


def wanted(of: Film) -> WantedReading:
    found: WantedReading = WantedReading.objects.get(film=of, state="wanted")
    return found


def take(client: Client, row: WantedReading) -> Any:
    return client.post(reverse("film-take", args=[row.pk]), follow=True)


def shown(show: str = "second") -> str:
    return f"{reverse('films')}?show={show}"


def test_each_queue_says_how_many_wait(client: Client) -> None:
    policy()
    one, two, three = readers()
    for who, length in ((one, "10"), (two, "15")):
        read(film() if who is one else Film.objects.get(), who, length)
    read(film(), one)
    film()
    client.force_login(three)
    page = text(client.get(reverse("films")))
    assert "First readings (1)" in page
    assert "Second readings drawn for you (1)" in page
    assert "Third readings drawn for you (1)" in page
    client.force_login(one)
    page = text(client.get(reverse("films")))
    assert "Second readings drawn for you (0)" in page
    assert "Third readings drawn for you (0)" in page


def test_empty_queues_say_what_comes_here(client: Client, film_reader: Person) -> None:
    client.force_login(film_reader)
    assert "No second reading waits for you" in text(client.get(shown()))
    assert "No third reading waits for you" in text(client.get(shown("third")))


def test_a_reading_is_taken_read_blind_and_done(client: Client) -> None:
    policy()
    one, two, _ = readers()
    drawn = film()
    read(drawn, one)
    row = wanted(drawn)
    client.force_login(two)
    assert f"Number {row.pk}" in text(client.get(shown()))
    page = take(client, row)
    assert page.redirect_chain[-1][0] == reverse("films-read", args=[drawn.pk])
    assert f"Second reading, number {row.pk}" in text(page)
    done = client.post(reverse("films-read", args=[drawn.pk]), typed(), follow=True)
    assert f"Saved: your reading of second reading, number {row.pk}." in text(done)
    assert done.redirect_chain[-1][0] == shown()
    reading = Reading.objects.get(reader=two)
    assert (reading.blind, reading.turn) == (True, 2)
    row.refresh_from_db()
    assert (row.state, row.reader) == ("done", two)


def test_a_surgeon_with_the_right_to_the_course_is_blind_all_the_same(
    client: Client, surgeon: Person
) -> None:
    policy()
    drawn = film(day=TAKEN_ON)
    read(drawn, readers(1)[0], "13.7")
    client.force_login(surgeon)
    key, name = drawn.injury.patient.key, drawn.injury.patient.identity.family_name
    secrets = (key, name, "13.7", "17 Jul 2026", "Locking plate", "LP", "Reader 1")
    page = page_of(take(client, wanted(drawn)))
    assert [word for word in secrets if word in page] == []
    refused = client.post(reverse("films-read", args=[drawn.pk]), {"version": "0"})
    assert refused.status_code == 200
    assert [word for word in secrets if word in page_of(refused)] == []
    done = client.post(reverse("films-read", args=[drawn.pk]), typed(), follow=True)
    assert [word for word in secrets if word in page_of(done)] == []
    assert Reading.objects.get(reader=surgeon).blind
    # What they read themselves, they correct as blind as they read it.
    again = page_of(client.get(reverse("films-read", args=[drawn.pk])))
    assert "Saving again corrects that" in again
    assert [word for word in secrets if word in again] == []


def test_no_address_that_a_blind_page_leads_to_gives_the_first_reading_away(
    client: Client, surgeon: Person
) -> None:
    policy()
    one, *_ = readers()
    picture = image(pictured.film(builders.procedure().injury, taken_on=TAKEN_ON), **HEADER)
    calibrate(picture)
    pictured.read(picture, one)
    drawn = picture.film
    client.force_login(surgeon)
    start = take(client, wanted(drawn))
    patient = drawn.injury.patient
    course = reverse("patient", args=[patient.key])
    secrets = (patient.key, patient.identity.family_name, "580.0", "17 Jul 2026", str(one))
    seen, waiting = set(), [(start.request["PATH_INFO"], start)]
    while waiting:
        address, page = waiting.pop()
        seen.add(address)
        if page["Content-Type"].startswith("image/"):
            continue
        html = page.content.decode()
        main = html[html.index("<main") : html.index("</main>")]
        assert [word for word in (*secrets, course) if word in main] == [], address
        for found in re.findall(r'(?:href|src|action)="([^"#]+)"', main):
            there = unescape(found)
            there = address.partition("?")[0] + there if there.startswith("?") else there
            answer = client.get(there)
            if there not in seen and answer.status_code == 200:
                seen.add(there)
                waiting.append((there, answer))
    assert reverse("image-measure", args=[picture.pk]) in seen
    assert reverse("image-frame", args=[picture.pk, 1]) in seen
    assert shown() in seen


def test_the_measuring_page_saves_a_blind_second_reading(client: Client, surgeon: Person) -> None:
    policy()
    one, *_ = readers()
    picture = image(pictured.film(builders.procedure().injury), **HEADER)
    calibrate(picture)
    pictured.read(picture, one)
    client.force_login(surgeon)
    row = wanted(picture.film)
    take(client, row)
    sent = {f"{name}_x": f"{x:.1f}" for name, (x, _) in POINTS.items()}
    sent |= {f"{name}_y": f"{y:.1f}" for name, (_, y) in POINTS.items()}
    sent |= {"version": "0", "translation_pct": "", "translation_pct_why": ""}
    sent |= {"union": "partial", "hardware": "intact"}
    page = client.post(reverse("image-measure", args=[picture.pk]), sent, follow=True)
    assert f"Saved: your reading of second reading, number {row.pk}." in text(page)
    reading = Reading.objects.get(reader=surgeon)
    assert (reading.blind, reading.turn) == (True, 2)
    row.refresh_from_db()
    assert row.state == "done"


def test_who_comes_from_the_course_reads_openly_and_fulfils_nothing(
    client: Client, surgeon: Person
) -> None:
    policy()
    drawn = film()
    read(drawn, readers(1)[0])
    client.force_login(surgeon)
    page = client.get(reverse("films-read", args=[drawn.pk])).content.decode()
    assert drawn.injury.patient.key in page
    client.post(reverse("films-read", args=[drawn.pk]), typed())
    assert not Reading.objects.get(reader=surgeon).blind
    assert wanted(drawn).reader is None


def test_save_and_next_takes_the_next_of_the_queue(client: Client) -> None:
    policy()
    one, two, _ = readers()
    first, second = film(), film()
    for drawn in (first, second):
        read(drawn, one)
    client.force_login(two)
    take(client, wanted(first))
    sent = {**typed(), "next": ""}
    answer = client.post(reverse("films-read", args=[first.pk]), sent)
    assert answer.headers["Location"] == reverse("films-read", args=[second.pk])
    assert wanted(second).reader == two
    last = client.post(reverse("films-read", args=[second.pk]), sent, follow=True)
    assert "That was the last film of the list" in text(last)


def test_what_a_colleague_took_is_said_and_not_opened(client: Client) -> None:
    policy()
    one, two, three = readers()
    drawn = film()
    read(drawn, one)
    row = wanted(drawn)
    service.take(wanted=row, by=two, now=NOW, expected_version=1)
    client.force_login(three)
    page = take(client, row)
    assert page.redirect_chain[-1][0] == shown()
    assert "is taken or done already; take another one" in text(page)
    assert "No second reading waits for you" in text(page)


def test_a_reading_is_given_back(client: Client) -> None:
    policy()
    one, two, _ = readers()
    drawn = film()
    read(drawn, one)
    row = wanted(drawn)
    client.force_login(two)
    assert reverse("film-give-back", args=[row.pk]) in take(client, row).content.decode()
    page = client.post(reverse("film-give-back", args=[row.pk]), follow=True)
    assert "It waits for another reader" in text(page)
    assert wanted(drawn).reader is None
    again = client.post(reverse("film-give-back", args=[row.pk]), follow=True)
    assert "is not waiting for you any more" in text(again)


def test_the_first_reader_may_not_take_the_second(client: Client) -> None:
    policy()
    one, *_ = readers()
    drawn = film()
    read(drawn, one)
    client.force_login(one)
    assert client.post(reverse("film-take", args=[wanted(drawn).pk])).status_code == 403


def test_a_reading_of_another_site_is_not_there(client: Client, outsider: Person) -> None:
    policy()
    drawn = film()
    read(drawn, readers(1)[0])
    client.force_login(outsider)
    for what in ("film-take", "film-give-back"):
        assert client.post(reverse(what, args=[wanted(drawn).pk])).status_code == 404
        assert client.get(reverse(what, args=[wanted(drawn).pk])).status_code == 405
