from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from followup.models import Questionnaire, QuestionnaireSetup, UrgentAdvice, Wording
from registry.models import Person
from tests.builders import NOW
from tests.followup.asked import PASTED, site_that_asks, wording

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture
def client(administrator: Person) -> Client:
    client = Client()
    client.force_login(administrator)
    return client


def said(answer: Any) -> str:
    return str(answer.content.decode())


def test_the_page_of_a_site_says_which_instrument_is_not_offered(client: Client) -> None:
    site = site_that_asks()
    shown = said(client.get(reverse("setup-questionnaire-site", args=[site.pk])))
    assert "not offered: no wording in use" in shown
    assert "Holdfast ships no wording of a licensed instrument" in shown
    assert reverse("setup-site", args=[site.pk]) in shown
    assert site.name in said(client.get(reverse("setup-questionnaires")))
    assert reverse("setup-questionnaires") in said(client.get(reverse("setup")))


def test_the_rules_are_changed_and_a_stale_form_is_shown_both(client: Client) -> None:
    site = site_that_asks()
    url = reverse("setup-questionnaire-rules", args=[site.pk])
    values = {"expiry_days": "30", "reminder_days": "5, 9", "version": "1"}
    assert client.post(url, values).status_code == 302
    row = QuestionnaireSetup.objects.get()
    assert (row.invites, row.reminder_days) == (False, [5, 9])
    assert client.post(url, {**values, "expiry_days": "29"}).status_code == 409
    assert "whole days" in said(client.post(url, {**values, "reminder_days": "soon"})).lower()
    refused = client.post(url, {**values, "version": "2", "reminder_days": "40"})
    assert "makes no sense" in said(refused)


def test_advice_is_written_in_a_shipped_language(client: Client) -> None:
    site = site_that_asks()
    url = reverse("setup-advice", args=[site.pk, "de"])
    with time_machine.travel(NOW, tick=False):
        assert client.post(url, {"version": "1", "text": "Bitte anrufen."}).status_code == 302
        assert client.post(url, {"version": "1", "text": "Anders."}).status_code == 409
        assert client.get(reverse("setup-advice", args=[site.pk, "xx"])).status_code == 404
    assert UrgentAdvice.objects.get(number=2).text == "Bitte anrufen."


def test_what_a_step_asks_is_chosen(client: Client) -> None:
    site = site_that_asks()
    url = reverse("setup-questionnaire-step", args=[site.pk, "6m"])
    assert "checked" in said(client.get(url))
    assert client.post(url, {"version": "0", "contents": ["pain", "work"]}).status_code == 302
    assert Questionnaire.objects.get().contents == ["pain", "work"]
    assert client.post(url, {"version": "0", "contents": ["pain"]}).status_code == 409
    missing = reverse("setup-questionnaire-step", args=[site.pk, "nothing"])
    assert client.get(missing).status_code == 404


def test_a_wording_is_pasted_read_and_taken_into_use(client: Client) -> None:
    site = site_that_asks()
    url = reverse("setup-wording-add", args=[site.pk])
    values = {"instrument": "quickdash", "language": "en", "edition": "2", "pasted": PASTED}
    refused = client.post(url, values)
    assert "Licence" in said(refused)
    assert not Wording.objects.exists()
    shown = client.post(url, {**values, "licence_note": "ours"}, follow=True)
    assert "Invented task 11" in said(shown)
    assert "not in use" in said(shown)
    row = Wording.objects.get()
    client.post(reverse("setup-wording", args=[row.pk]), {"use": "yes"})
    row.refresh_from_db()
    assert row.in_use
    site_page = said(client.get(reverse("setup-questionnaire-site", args=[site.pk])))
    assert "version 1 in use" in site_page
    client.post(reverse("setup-wording", args=[row.pk]), {"stop": "yes"})
    row.refresh_from_db()
    assert not row.in_use


def test_what_is_missing_in_a_paste_is_named(client: Client) -> None:
    site = site_that_asks()
    values = {"instrument": "quickdash", "language": "en", "edition": "2", "licence_note": "ours"}
    url = reverse("setup-wording-add", args=[site.pk])
    shown = client.post(url, {**values, "pasted": "1. Task\na\nb"})
    assert "Item 1 has 2 answers; 5 are needed" in said(shown)


def test_another_sites_wording_is_not_there(client: Client) -> None:
    row = wording(site_that_asks("south"))
    assert client.get(reverse("setup-wording", args=[row.pk])).status_code == 404
