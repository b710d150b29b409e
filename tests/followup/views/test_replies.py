"""The pages of what patients wrote back."""

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Reply
from registry.models import Person
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.usefixtures("defaults")


def reply(site: str = "north") -> Reply:
    return Reply.objects.create(
        site=builders.site(site),
        key="k",
        means="text",
        sender="0555 010 9",
        text="Who is this?",
        because="No patient of the site has this number",
        received_at=NOW,
        taken_at=NOW,
    )


@pytest.fixture
def here(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


def test_what_waits_is_listed_and_told_of_on_the_lists_beside_it(here: Client) -> None:
    reply()
    page = here.get(reverse("replies")).content.decode()
    assert "Who is this?" in page
    assert "No patient of the site has this number" in page
    for name in ("tasks", "messages"):
        assert "1 to look at" in here.get(reverse(name)).content.decode()


def test_it_is_seen_to_with_a_note(here: Client) -> None:
    where = reverse("reply-seen", args=[reply().pk])
    refused = here.post(where, {"note": ""}, follow=True).content.decode()
    assert "Say what was done" in refused
    assert here.post(where, {"note": "a wrong number"}).status_code == 302
    assert Reply.objects.get().seen_note == "a wrong number"
    assert "Nothing waits for you" in here.get(reverse("replies")).content.decode()
    shown = here.get(reverse("replies"), {"show": "all"}).content.decode()
    assert "Seen to" in shown
    again = here.post(where, {"note": "once more"}, follow=True).content.decode()
    assert "cannot become" in again


def test_an_administrator_sees_that_it_waits_and_cannot_settle_it(
    client: Client, administrator: Person
) -> None:
    client.force_login(administrator)
    row = reply()
    page = client.get(reverse("reply", args=[row.pk])).content.decode()
    assert "Who is this?" not in page
    assert "0555 010 9" not in page
    answer = client.post(reverse("reply-seen", args=[row.pk]), {"note": "mine"})
    assert answer.status_code == 403
    assert Reply.objects.get().fate == "waiting"


def test_another_site_has_no_such_page(here: Client) -> None:
    assert here.get(reverse("reply", args=[reply("south").pk])).status_code == 404
