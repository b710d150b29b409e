"""What a patient sees, and what somebody without a good link does not."""

import logging
import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.cache import cache
from django.test import Client, override_settings
from django.urls import reverse

from config import logs
from followup.models import Answer, Invitation, InvitationLink, Score, Task
from followup.services import invitations
from followup.views import questionnaires
from registry.models.identities import Identifier, Identity
from tests.builders import NOW
from tests.followup.asked import (
    ADVICE,
    RAT,
    TELEPHONE,
    invited,
    phone,
    post,
    site_that_asks,
    wording,
)

pytestmark = pytest.mark.usefixtures("defaults")
HERE = "/q/"
PAGES = ("start", "shape", "pain", "function", "satisfaction", "work", "sport", "hardware")


@pytest.fixture(autouse=True)
def clock() -> Iterator[Any]:
    cache.clear()
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


def text(answer: Any) -> str:
    return str(answer.content.decode())


def page_of(answer: Any) -> str:
    found = re.search(r'<form method="post">.*?name="page" value="([^"]+)"', text(answer), re.S)
    return found[1] if found else ""


def closed(answer: Any) -> bool:
    return answer.status_code == 404 and "This page cannot be opened" in text(answer)


def test_the_link_is_exchanged_for_a_cookie_of_its_path_and_leaves_the_address() -> None:
    _, address = invited()
    client = Client()
    answer = client.get(address)
    assert (answer.status_code, answer.headers["Location"]) == (302, HERE)
    cookie = answer.cookies["questionnaire"]
    assert (cookie["path"], cookie["httponly"], cookie["samesite"]) == (HERE, True, "Lax")
    assert cookie["max-age"] == 12 * 3600
    token = address.removeprefix(HERE).rstrip("/")
    assert token not in cookie.value
    assert token not in text(client.get(HERE))
    assert "sessionid" not in client.cookies


@override_settings(SESSION_COOKIE_SECURE=True)
def test_in_production_the_cookie_goes_over_https_only() -> None:
    _, address = invited()
    assert Client().get(address).cookies["questionnaire"]["secure"]


def test_the_pages_follow_each_other_each_is_saved_and_the_end_is_thanks() -> None:
    invitation, address = invited()
    client = phone(address)
    first = client.get(HERE)
    assert page_of(first) == "start"
    assert "nobody is watching" in text(first)
    given = {
        "start": {"q1": "self"},
        "shape": {"q1": "no"},
        "pain": {"q1": "3"},
        "function": {"q1": "75"},
        "satisfaction": {"q1": "rather"},
        "work": {"q1": "same"},
        "sport": {"q1": "not_yet"},
        "hardware": {"q1": "never", "q2": "never", "q3": "sometimes", "q4": "never", "q5": "no"},
    }
    for number, (code, answers) in enumerate(given.items()):
        shown = post(client, code, **answers)
        following = (*PAGES, "check")[number + 1]
        assert page_of(shown) == following
        if following != "check":
            assert f"Page {number + 1} of 7" in text(shown)
    assert "Yes, to the same work as before" in text(shown)
    assert Answer.objects.count() == 12
    assert "Thank you" in text(post(client, "check"))
    invitation.refresh_from_db()
    assert invitation.completed_at == NOW
    assert {row.instrument: float(row.value) for row in Score.objects.all()} == {
        "pain_nrs": 3.0,
        "sane": 75.0,
    }


def test_what_was_answered_is_there_when_the_link_is_opened_again(clock: Any) -> None:
    _, address = invited()
    post(phone(address), "start", q1="self")
    first = phone(address)
    post(first, "shape", q1="no")
    post(first, "pain", q1="3")
    clock.shift(timedelta(days=2))
    again = phone(address)
    assert page_of(again.get(HERE)) == "function"
    assert re.search(r'value="3"[^>]*checked', text(again.get(f"{HERE}?page=pain")))


def test_the_cookie_is_over_after_half_a_day_without_a_page_and_the_link_opens_it_again(
    clock: Any,
) -> None:
    _, address = invited()
    client = phone(address)
    clock.shift(timedelta(hours=11))
    assert client.get(HERE).status_code == 200
    clock.shift(timedelta(hours=11))
    assert client.get(HERE).status_code == 200
    kept = client.cookies["questionnaire"].value
    clock.shift(timedelta(hours=12, minutes=1))
    client.cookies["questionnaire"] = kept
    shown = client.get(HERE)
    assert closed(shown)
    assert "A long pause closes the page too: the link in your message opens it" in text(shown)
    assert page_of(phone(address).get(HERE)) == "start"


def test_an_open_page_closes_with_its_link_however_young_the_cookie(clock: Any) -> None:
    invitation, address = invited()
    clock.move_to(invitation.expires_at - timedelta(hours=1))
    client = phone(address)
    assert client.get(HERE).status_code == 200
    clock.shift(timedelta(hours=2))
    assert closed(client.get(HERE))


def test_who_answers_can_be_corrected_from_the_first_page_and_from_the_check() -> None:
    _, address = invited()
    client = phone(address)
    first = post(client, "start", q1="other")
    assert '<a href="?page=start">Back</a>' in text(first)
    check = " ".join(text(client.get(f"{HERE}?page=check")).split())
    assert "<dt>Who is answering?</dt> <dd>Somebody else, for the patient" in check
    assert '<a href="?page=start">Change<span class="unseen">: Who is answering?' in check
    assert page_of(client.get(f"{HERE}?page=start")) == "start"
    assert "Back</a>" not in text(client.get(f"{HERE}?page=start"))
    post(client, "start", q1="self")
    assert "I am the patient" in text(client.get(f"{HERE}?page=check"))


def test_a_question_may_be_left_open_and_a_number_be_wiped_out() -> None:
    _, address = invited()
    client = phone(address)
    assert page_of(post(client, "pain")) == "function"
    post(client, "function", q1="75")
    post(client, "function", q1="")
    assert Answer.objects.get(question="function").value == ""
    post(client, "pain", q1="4")
    post(client, "pain")
    assert Answer.objects.get(question="pain").value == "4"


@pytest.mark.parametrize(
    ("page", "value", "words"),
    [
        ("function", "101", "whole number within the range"),
        ("function", "very well", "whole number within the range"),
        ("pain", "11", "choose one of the answers"),
        ("pain", "<script>", "choose one of the answers"),
    ],
)
def test_what_cannot_be_is_refused_by_its_question(page: str, value: str, words: str) -> None:
    _, address = invited()
    shown = post(phone(address), page, q1=value)
    assert page_of(shown) == page
    assert words in text(shown)
    assert "<script>" not in text(shown)
    assert not Answer.objects.exists()


def test_an_alarming_answer_shows_the_advice_on_the_next_page_and_at_the_end() -> None:
    _, address = invited()
    client = phone(address)
    assert ADVICE not in text(client.get(HERE))
    shown = post(client, "pain", q1="9")
    assert page_of(shown) == "function"
    assert ADVICE in text(shown)
    assert "Nobody is watching your answers at this moment" in text(shown)
    assert TELEPHONE in text(shown)
    assert Task.objects.get().kind == "alarming_answer"
    end = post(client, "check")
    assert "Thank you" in text(end)
    assert ADVICE in text(end)


def test_a_quiet_answer_shows_no_advice() -> None:
    _, address = invited()
    shown = post(phone(address), "pain", q1="8")
    assert ADVICE not in text(shown)
    assert 'role="alert"' not in text(shown)


def test_the_page_speaks_the_language_of_the_patient_and_can_be_switched() -> None:
    _, address = invited(language="de")
    client = phone(address)
    first = client.get(HERE)
    assert '<html lang="de">' in text(first)
    assert "Wie geht es Ihnen und Ihrer Schulter?" in text(first)
    shown = post(client, "pain", q1="10")
    assert RAT in text(shown)
    assert "Seite 3 von 7" in text(shown)
    switched = client.post(HERE, {"page": "start", "language": "en"}, follow=True)
    assert '<html lang="en-GB">' in text(switched)
    assert "How are you and your shoulder?" in text(switched)
    assert Answer.objects.get().language == "de"
    unknown = client.post(HERE, {"page": "start", "language": "xx"}, follow=True)
    assert unknown.status_code == 200


def test_a_licensed_instrument_is_asked_in_the_words_of_the_site_as_they_are() -> None:
    invitation, address = invited()
    client = phone(address)
    assert "Invented task" not in text(client.get(f"{HERE}?page=quickdash-1"))
    words = wording(invitation.site)
    shown = client.get(f"{HERE}?page=quickdash-1")
    assert text(shown).count("Invented task") == 3
    assert "middling" in text(shown)
    post(client, "quickdash-1", q1="1", q2="3", q3="5")
    kept = Answer.objects.order_by("question").values_list("question", "value", "wording")
    assert list(kept) == [
        ("quickdash:1", "1", words.pk),
        ("quickdash:2", "3", words.pk),
        ("quickdash:3", "5", words.pk),
    ]


def test_nothing_about_the_patient_stands_on_any_page() -> None:
    invitation, address = invited(
        family_name="Quillfeather", phone="0555 010 4407", address="11 Saltgate"
    )
    whose = invitation.review.procedure.injury.patient
    who = Identity.objects.get(patient=whose)
    marks = {who.family_name, who.given_name, who.phone, who.email, who.address, whose.key}
    marks |= {"1980", "1976", str(invitation.review.due_on.year + 1), "Left", "left", "plate"}
    marks |= {row.value for row in Identifier.objects.filter(patient=whose)}
    marks |= {"hook", "Neer", "fracture", "clavicle", "Patient key", invitation.review.step.name}
    client = phone(address)
    shown = [client.get(f"{HERE}?page={code}") for code in (*PAGES, "check")]
    shown.append(post(client, "check"))
    said = "".join(re.sub(r"<[^>]+>", " ", text(answer)) for answer in shown)
    assert {mark for mark in marks if mark in said} == set()


def test_no_page_is_kept_indexed_or_told_to_others() -> None:
    _, address = invited()
    client = Client()
    for answer in (client.get(address), client.get(HERE), Client().get(HERE)):
        assert "no-store" in answer.headers["Cache-Control"]
        assert "noindex" in answer.headers["X-Robots-Tag"]
        assert "script-src 'self'" in answer.headers["Content-Security-Policy"]
        assert answer.headers["X-Frame-Options"] == "DENY"
    assert client.get(address).headers["Referrer-Policy"] == "no-referrer"
    assert Client().get(HERE).headers["Referrer-Policy"] == "no-referrer"
    # With no-referrer a browser names no origin, and the guard against forgeries refuses its forms.
    assert client.get(HERE).headers["Referrer-Policy"] == "same-origin"


@pytest.mark.parametrize("link", ["x", "A" * 43, "%00", "'; --", "A" * 5000])
def test_a_guess_gets_the_same_page_as_everything_that_is_closed(link: str) -> None:
    site_that_asks()
    client = Client()
    answer = client.get(f"{HERE}{link}/")
    assert (answer.status_code, answer.headers["Location"]) == (302, HERE)
    shown = client.get(HERE)
    assert closed(shown)
    assert TELEPHONE in text(shown)


def test_unknown_over_answered_and_withdrawn_links_look_alike(clock: Any) -> None:
    site_that_asks()
    pages, heads = [], []

    def look(address: str) -> None:
        client = Client()
        first = client.get(address)
        shown = client.get(HERE)
        head = {name: said for name, said in first.headers.items() if name != "X-Request-ID"}
        heads.append((first.status_code, head, sorted(first.cookies)))
        pages.append((shown.status_code, re.sub(r'value="[^"]{20,}"', "", text(shown))))

    look(f"{HERE}{'A' * 43}/")
    answered, link = invited()
    post(phone(link), "check")
    look(link)
    revoked, link = invited()
    by = revoked.review.recorded_by
    invitations.revoke(invitation=revoked, because="in error", by=by, now=NOW)
    look(link)
    _, link = invited()
    clock.shift(timedelta(days=22))
    look(link)
    assert answered.pk != revoked.pk
    assert len(set(pages)) == 1
    assert closed_page(pages[0])
    assert all(head == heads[0] for head in heads)


def closed_page(page: tuple[int, str]) -> bool:
    return page[0] == 404 and "This page cannot be opened" in page[1]


def test_one_link_opens_one_review_and_no_other() -> None:
    mine, address = invited()
    other, _ = invited()
    post(phone(address), "pain", q1="9")
    assert Answer.objects.get().invitation == mine
    assert not Answer.objects.filter(invitation=other).exists()
    client = phone(address)
    client.post(HERE, {"page": "pain", "q1": "1", "invitation": str(other.pk), "link": "2"})
    assert Answer.objects.get().value == "1"


def test_a_cookie_that_was_changed_opens_nothing() -> None:
    invited()
    _, address = invited()
    client = phone(address)
    good = client.cookies["questionnaire"].value
    client.cookies["questionnaire"] = "x" + good
    assert closed(client.get(HERE))
    assert closed(client.post(HERE, {"page": "pain", "q1": "9"}))
    assert not Answer.objects.exists()


def test_after_completion_a_replay_changes_nothing() -> None:
    _, address = invited()
    client, second = phone(address), phone(address)
    post(client, "pain", q1="2")
    post(client, "check")
    for device in (client, second):
        shown = post(device, "pain", q1="9")
        assert "Thank you" in text(shown)
        assert "Thank you" in text(post(device, "check"))
    assert closed(phone(address).get(HERE))
    assert Answer.objects.get().value == "2"
    assert Score.objects.count() == 1
    assert not Task.objects.exists()


def test_two_devices_at_once_keep_each_others_answers() -> None:
    _, address = invited()
    one, two = phone(address), phone(address)
    post(one, "pain", q1="2")
    post(two, "satisfaction", q1="very")
    post(one, "pain", q1="3")
    assert dict(Answer.objects.values_list("question", "value")) == {
        "pain": "3",
        "satisfaction": "very",
    }


def test_a_link_that_is_withdrawn_closes_the_open_page() -> None:
    invitation, address = invited()
    client = phone(address)
    by = invitation.review.recorded_by
    invitations.revoke(invitation=invitation, because="in error", by=by, now=NOW)
    assert closed(post(client, "pain", q1="9"))
    assert not Answer.objects.exists()


def test_a_forged_form_is_refused() -> None:
    _, address = invited()
    client = Client(enforce_csrf_checks=True)
    client.get(address)
    client.get(HERE)
    assert client.post(HERE, {"page": "pain", "q1": "9"}).status_code == 403
    token = client.cookies["csrftoken"].value
    good = client.post(HERE, {"page": "pain", "q1": "4", "csrfmiddlewaretoken": token})
    assert good.status_code == 302
    assert Answer.objects.get().value == "4"


def test_too_many_tries_from_one_address_wait_and_others_do_not() -> None:
    _, address = invited()
    for number in range(60):
        Client().get(f"{HERE}{'A' * 40}{number:03}/")
    client = Client()
    shown = client.get(address, follow=True)
    assert shown.status_code == 429
    assert "Please wait a little" in text(shown)
    assert "questionnaire" not in {k for k, v in client.cookies.items() if v.value}
    elsewhere = Client(REMOTE_ADDR="192.0.2.7")
    assert elsewhere.get(address, follow=True).status_code == 200


def test_too_many_tries_of_one_link_wait(clock: Any) -> None:
    _, address = invited()
    for number in range(20):
        assert Client(REMOTE_ADDR=f"192.0.2.{number}").get(address, follow=True).status_code == 200
    assert Client(REMOTE_ADDR="192.0.2.99").get(address, follow=True).status_code == 429
    clock.shift(timedelta(minutes=10))
    assert Client(REMOTE_ADDR="192.0.2.99").get(address, follow=True).status_code == 200


@override_settings(PROXIES=1)
def test_behind_our_proxy_the_address_is_what_the_proxy_saw() -> None:
    _, address = invited()
    for number in range(61):
        passed = f"203.0.113.{number}, 192.0.2.1"
        shown = Client().get(f"{HERE}{'B' * 40}{number:03}/", HTTP_X_FORWARDED_FOR=passed)
    assert shown.headers["Location"] == f"{HERE}?wait=1"
    other = Client().get(address, HTTP_X_FORWARDED_FOR="192.0.2.2", follow=True)
    assert other.status_code == 200


def test_too_many_pages_of_one_link_wait(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(questionnaires, "BY_PAGES", 5)
    _, address = invited()
    client = phone(address)
    codes = [client.get(HERE).status_code for _ in range(6)]
    assert codes == [200, 200, 200, 200, 200, 429]


def test_the_token_stands_in_no_log(caplog: pytest.LogCaptureFixture) -> None:
    _, address = invited()
    token = address.removeprefix(HERE).rstrip("/")
    caplog.handler.setFormatter(logs.lines())
    with caplog.at_level(logging.DEBUG):
        client = Client()
        client.get(address)
        client.post(address)
        client.get(f"{HERE}{token}/more/")
        post(client, "pain", q1="4")
    assert "/q/(a secret)" in caplog.text
    assert token not in caplog.text


def test_only_looking_opens_a_link_and_a_mail_scanner_begins_nothing() -> None:
    _, address = invited()
    assert Client().post(address).status_code == 405
    phone(address).get(HERE)
    assert Invitation.objects.get().opened_at is None
    post(phone(address), "start", q1="self")
    assert Invitation.objects.get().opened_at == NOW


def test_somebody_who_is_signed_in_sees_the_patients_page_and_no_rooms(coordinator: Any) -> None:
    _, address = invited()
    client = Client()
    client.force_login(coordinator)
    shown = client.get(address, follow=True)
    assert "Sign out" not in text(shown)
    assert "Who is due" not in text(shown)


def test_a_page_costs_few_queries(counted: Any) -> None:
    _, address = invited()
    client = phone(address)
    with counted() as queries:
        client.get(HERE)
    assert len(queries) <= 10
    assert InvitationLink.objects.count() == 1
    assert reverse("questionnaire") == HERE
