from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Letter, LetterText, Review
from followup.services import visits
from registry.models import AuditEntry, Person
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def here(client: Client, surgeon: Person) -> Client:
    client.force_login(surgeon)
    return client


@pytest.fixture
def review(db: None) -> Review:
    whose = builders.patient(family_name="Quill")
    found = builders.procedure(of=builders.injury(of=whose)).reviews.get(step__code="6m")
    return visits.save_visit(
        review=found,
        visited_on=TODAY,
        findings=visits.VisitFindings(next_step_note="full load", score_totals={"pain_nrs": 2.0}),
        expected_version=found.version,
        by=found.recorded_by,
        now=NOW,
        today=TODAY,
    )


def page(client: Client, name: str, *args: Any) -> str:
    return str(client.get(reverse(name, args=args)).content.decode())


def test_a_letter_is_composed_edited_kept_and_marked_as_sent(here: Client, review: Review) -> None:
    composed = page(here, "visit-letter-write", review.pk, "referrer")
    assert "Dear colleague," in composed
    assert "Pain, 0 to 10: 2 on 25 Nov 2026" in composed
    assert "Quill, Ada, born 17 May 1980" in composed
    assert not Letter.objects.exists()
    typed = {"addressee": "Dr Invented\r\n1 Old Square", "body": "Dear doctor,\r\n\r\nAll told."}
    where = reverse("visit-letter-write", args=[review.pk, "referrer"])
    assert here.post(where, typed).url == reverse("visit-letters", args=[review.pk])
    letter = Letter.objects.get()
    assert "Dear doctor," in page(here, "visit-letter-write", review.pk, "referrer")
    shown = page(here, "letter", letter.pk)
    assert "nothing has gone out" in shown
    assert "The words are those of the record" in shown
    told = {"version": letter.version, "means": "post", "on": "2026-11-25"}
    assert here.post(reverse("letter-send", args=[letter.pk]), told).status_code == 302
    shown = page(here, "letter", letter.pk)
    assert "Sent on 25 Nov 2026, by post" in shown
    assert "Change it" not in shown
    assert "Mark as sent" not in shown
    assert "All told." in page(here, "letter-words", letter.pk)
    pages = here.get(reverse("letter-pages", args=[letter.pk]))
    assert pages.content == bytes(LetterText.objects.get().pages or b"")
    assert pages.headers["Cache-Control"] == "private, no-store"
    assert "Write another" in page(here, "visit-letters", review.pk)


def test_words_that_were_changed_behind_its_back_are_called_out(
    here: Client, review: Review
) -> None:
    where = reverse("visit-letter-write", args=[review.pk, "note"])
    here.post(where, {"body": "Held."})
    LetterText.objects.update(body="Lost.")
    shown = page(here, "letter", Letter.objects.get().pk)
    assert "not those that were recorded" in shown


def test_of_two_who_write_the_second_sees_both(here: Client, review: Review) -> None:
    where = reverse("visit-letter-write", args=[review.pk, "note"])
    here.post(where, {"body": "Held."})
    here.post(where, {"body": "Held well.", "version": "1"})
    answer = here.post(where, {"body": "Held badly.", "version": "1"})
    shown = answer.content.decode()
    assert answer.status_code == 409
    assert "Held well." in shown
    assert "Held badly." in shown
    assert LetterText.objects.count() == 2


def test_a_refusal_to_send_stands_by_its_field(here: Client, review: Review) -> None:
    here.post(reverse("visit-letter-write", args=[review.pk, "patient"]), {"body": "Hello."})
    letter = Letter.objects.get()
    told = {"version": letter.version, "means": "post", "on": "2026-11-26"}
    shown = here.post(reverse("letter-send", args=[letter.pk]), told).content.decode()
    assert "in the future" in shown
    told["on"] = "2026-11-25"
    shown = here.post(reverse("letter-send", args=[letter.pk]), told).content.decode()
    assert "Say first whom this letter goes to." in shown


def test_a_visit_that_is_not_recorded_has_no_letters(here: Client, review: Review) -> None:
    later = review.procedure.reviews.get(step__code="12m")
    answer = here.get(reverse("visit-letter-write", args=[later.pk, "note"]))
    assert answer.url == reverse("clinic-visit", args=[later.pk])
    assert "not recorded yet" in page(here, "visit-letters", later.pk)
    assert here.get(reverse("visit-letter-write", args=[review.pk, "poem"])).status_code == 404


def test_a_coordinator_sends_and_does_not_write(
    client: Client, coordinator: Person, here: Client, review: Review
) -> None:
    where = reverse("visit-letter-write", args=[review.pk, "note"])
    here.post(where, {"body": "Held."})
    letter = Letter.objects.get()
    client.force_login(coordinator)
    assert client.get(where).status_code == 403
    assert "Mark as sent" in page(client, "letter", letter.pk)
    told = {"version": letter.version, "means": "filed", "on": "2026-11-25"}
    assert client.post(reverse("letter-send", args=[letter.pk]), told).status_code == 302


def test_reading_a_letter_is_written_down(here: Client, review: Review) -> None:
    page(here, "visit-letters", review.pk)
    entry = AuditEntry.objects.latest("id")
    assert (entry.action, entry.reason) == ("read", "letters")
