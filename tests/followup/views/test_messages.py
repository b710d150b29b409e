"""The page of what did not go out, and deciding about one message."""

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Message, Task
from registry.models import Person
from tests.builders import NOW
from tests.outbox import waiting

pytestmark = pytest.mark.usefixtures("defaults")


def parked(state: str = "failed", site: str = "north") -> Message:
    message = waiting(site)
    Message.objects.filter(pk=message.pk).update(
        state=state, tries=1, handed_at=NOW, means="email", stopped_because="nobody answers"
    )
    message.refresh_from_db()
    return message


@pytest.fixture
def here(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


def send(here: Client, act: str, message: Message, **given: object) -> str:
    """Send a decision about a message; return the page that follows."""
    data = {"version": message.version, **given}
    answer = here.post(reverse(act, args=[message.pk]), data, follow=True)
    assert answer.status_code == 200
    message.refresh_from_db()
    return answer.content.decode()


def test_what_failed_is_listed_with_its_reason_and_what_waits_is_not(here: Client) -> None:
    failed, waits = parked(), waiting()
    page = here.get(reverse("messages")).content.decode()
    assert str(failed.patient.identity) in page
    assert "nobody answers" in page
    assert str(waits.patient.identity) not in page
    assert (
        str(waits.patient.identity)
        in here.get(reverse("messages"), {"show": "waiting"}).content.decode()
    )


def test_where_nothing_waits_for_a_person_it_says_so(here: Client) -> None:
    assert "Nothing waits for you" in here.get(reverse("messages")).content.decode()
    page = here.get(reverse("messages"), {"show": "nonsense"}).content.decode()
    assert "Nothing waits for you" in page


def test_an_administrator_sees_the_failure_and_not_the_name(
    client: Client, administrator: Person
) -> None:
    message = parked()
    client.force_login(administrator)
    for address in (reverse("messages"), reverse("message", args=[message.pk])):
        page = client.get(address).content.decode()
        assert message.patient.key in page
        assert message.patient.identity.family_name not in page
        assert "Send it again" not in page


def test_a_message_tells_what_happened_to_it(here: Client) -> None:
    message = parked("unknown")
    message.steps.create(kind="unknown", at=NOW, round=1, number=1, detail="no answer came")
    page = here.get(reverse("message", args=[message.pk])).content.decode()
    assert "no answer came" in page
    assert "It may have arrived" in page
    assert "Send it again" in page


def test_a_message_that_went_offers_no_decision(here: Client) -> None:
    page = here.get(reverse("message", args=[waiting().pk])).content.decode()
    assert "Send it again" not in page


def test_it_is_sent_again(here: Client) -> None:
    message = parked()
    assert "It waits to be sent again." in send(here, "message-again", message)
    assert (message.state, message.round) == ("waiting", 2)


def test_it_is_marked_as_delivered_with_how_one_knows(here: Client) -> None:
    message = parked("unknown")
    assert "Say how you know" in send(here, "message-delivered", message)
    assert message.state == "unknown"
    send(here, "message-delivered", message, reason="she rang")
    assert message.state == "sent"


def test_it_is_given_up_and_a_task_is_open(here: Client) -> None:
    message = parked()
    page = send(here, "message-given-up", message, reason="the number is dead")
    assert "A task is open" in page
    assert (message.state, Task.objects.get().patient) == ("stopped", message.patient)


def test_who_comes_late_is_told_what_it_is_now(here: Client) -> None:
    message = parked()
    page = send(here, "message-again", message, version=9)
    assert "Nothing was changed. The message was changed by somebody else" in page
    Message.objects.filter(pk=message.pk).update(state="sent", sent_at=NOW)
    page = send(here, "message-given-up", message, reason="late")
    assert "The message is &#x27;sent&#x27; and cannot become &#x27;stopped&#x27;" in page


def test_without_a_version_nothing_is_done(here: Client) -> None:
    message = parked()
    assert "Nothing was changed" in send(here, "message-again", message, version="")
    assert message.state == "failed"


def test_the_way_there_is_on_due_and_tasks_for_whoever_may_go(
    client: Client, here: Client, surgeon: Person
) -> None:
    address = reverse("messages")
    for name in ("due", "tasks"):
        assert f'href="{address}"' in here.get(reverse(name)).content.decode()
    client.force_login(surgeon)
    assert f'href="{address}"' not in client.get(reverse("due")).content.decode()
