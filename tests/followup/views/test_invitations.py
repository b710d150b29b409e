import re
from typing import Any

import pytest
import time_machine
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from followup.models import Invitation
from followup.services import answers
from registry.models import Person
from tests.builders import NOW
from tests.followup.asked import invited, operated, review_now

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture
def client(coordinator: Person) -> Client:
    cache.clear()
    client = Client()
    client.force_login(coordinator)
    return client


def said(answer: Any) -> str:
    return str(answer.content.decode())


@time_machine.travel(NOW, tick=False)
def test_a_link_is_shown_once_and_opens_the_questionnaire(client: Client) -> None:
    operation = operated()
    review, key = review_now(operation), operation.injury.patient.key
    patient = reverse("patient", args=[key])
    assert "nobody asked yet" in said(client.get(patient))
    shown = client.post(reverse("review-link", args=[review.pk]))
    (link,) = set(re.findall(r"/q/[A-Za-z0-9_-]{43}/", said(shown)))
    assert "no-store" in shown.headers["Cache-Control"]
    assert "How are you" in said(Client().get(link, follow=True))
    page = said(client.get(patient))
    assert "sent, not opened" in page
    assert link not in page


@time_machine.travel(NOW, tick=False)
def test_withdrawing_kills_the_link(client: Client) -> None:
    invitation, link = invited()
    key = invitation.review.procedure.injury.patient.key
    url = reverse("invitation-revoke", args=[invitation.pk])
    shown = client.post(url, follow=True)
    assert shown.redirect_chain == [(reverse("patient", args=[key]), 302)]
    assert "its links are dead" in said(shown)
    assert Client().get(link, follow=True).status_code == 404
    assert "withdrawn already" in said(client.post(url, follow=True))
    assert Invitation.objects.get().revoked_because == "withdrawn by Connie"


@time_machine.travel(NOW, tick=False)
def test_what_was_answered_gets_no_new_link_and_stands_on_the_course(client: Client) -> None:
    invitation, _ = invited()
    answers.keep(
        invitation=invitation,
        given={"work": "lighter", "pain": "9"},
        next_page="",
        wordings={},
        now=NOW,
    )
    answers.complete(invitation=invitation, now=NOW)
    shown = client.post(reverse("review-link", args=[invitation.review_id]), follow=True)
    page = said(shown)
    assert "was answered already" in page
    assert "work: Yes, to lighter work or fewer hours" in page
    assert "alarming: pain 9 of 10" in page
    visit = said(client.get(reverse("clinic-visit", args=[invitation.review_id])))
    assert "work: Yes, to lighter work or fewer hours" in visit


@time_machine.travel(NOW, tick=False)
def test_where_nothing_is_set_up_the_refusal_says_what_to_do(client: Client) -> None:
    operation = operated()
    review = review_now(operation)
    review.site.questionnaire_setup.delete()
    review.site.urgent_advice.all().delete()
    shown = client.post(reverse("review-link", args=[review.pk]), follow=True)
    assert "asks nobody at home yet" in said(shown)
