"""What a worker that died left behind: given back, asked about, or parked; never sent blindly."""

import uuid
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest

from followup.models import Message
from followup.rules.retry import MOST_LOOK_UPS
from followup.services import delivery, stuck_messages
from tests.builders import NOW
from tests.outbox import by_http, policy, run, steps, waiting
from tests.provider import Provider, Treatment, serving

pytestmark = pytest.mark.usefixtures("defaults")
# A lease is ten minutes unless the settings say otherwise.
SOON, LATER = NOW + timedelta(minutes=9), NOW + timedelta(minutes=11)


@pytest.fixture
def provider(settings: Any) -> Iterator[Provider]:
    """Give every text message to a provider that can be asked what it took."""
    policy(sends_email=False)
    with serving() as running:
        settings.CARRIERS = by_http(running, look_up=True, seconds=0.3)
        yield running


def abandoned(*, begun: bool) -> Message:
    """Leave a message as a worker does that is killed before or while handing it over."""
    message = waiting(phone="1")
    claim = uuid.uuid4()
    delivery.take_up(claim=claim, number=1, now=NOW)
    if begun:
        delivery.begin(message_id=message.pk, claim=claim, now=NOW)
    return message


def now_of(message: Message) -> Message:
    message.refresh_from_db()
    return message


def test_what_was_not_being_handed_over_goes_after_the_lease(mailoutbox: list[Any]) -> None:
    message = abandoned(begun=False)
    run(SOON)
    assert (now_of(message).state, mailoutbox) == ("sending", [])
    run(LATER)
    assert (now_of(message).state, len(mailoutbox)) == ("sent", 1)
    assert steps(message) == ["claimed", "released", "claimed", "handing_over", "accepted"]


def test_what_may_have_gone_is_parked_and_not_sent_again(mailoutbox: list[Any]) -> None:
    message = abandoned(begun=True)
    run(SOON)
    assert now_of(message).state == "sending"
    assert run(LATER)["unknown"] == 1
    run(LATER + timedelta(days=1))
    assert (now_of(message).state, mailoutbox) == ("unknown", [])
    assert message.stopped_because == "its worker ended while handing it over; it may have gone"


def test_a_carrier_that_took_it_says_so(provider: Provider) -> None:
    message = abandoned(begun=True)
    provider.taken[str(message.uuid)] = 1
    run(LATER)
    assert now_of(message).state == "sent"
    assert message.sent_at == NOW
    assert provider.received.total() == 0


def test_what_the_carrier_did_not_take_goes_again_under_the_same_key(provider: Provider) -> None:
    message = abandoned(begun=True)
    run(LATER)
    assert now_of(message).state == "sent"
    assert provider.taken == {str(message.uuid): 1}
    assert steps(message)[2:4] == ["unknown", "looked_up"]
    assert message.tries == 2


def test_a_carrier_is_asked_only_once_it_has_surely_made_up_its_mind(provider: Provider) -> None:
    message = waiting(phone="1")
    provider.treat = lambda key, times: Treatment(wait_before=0.6)
    run(NOW)
    run(SOON)
    assert (now_of(message).state, provider.looked_up.total()) == ("unknown", 0)
    while not provider.taken:
        pass
    run(LATER)
    assert (now_of(message).state, provider.received.total()) == ("sent", 1)


def test_a_carrier_that_cannot_say_is_asked_some_times_and_then_a_person(
    settings: Any,
) -> None:
    policy(sends_email=False)
    with serving() as gone:
        settings.CARRIERS = by_http(gone, look_up=True, seconds=0.3)
        message = abandoned(begun=True)
    for day in range(MOST_LOOK_UPS + 3):
        run(LATER + timedelta(days=day))
    assert now_of(message).state == "unknown"
    assert steps(message).count("looked_up") == MOST_LOOK_UPS


def test_what_a_person_has_decided_meanwhile_stands(provider: Provider) -> None:
    message = abandoned(begun=True)
    stuck_messages.free_stuck(now=LATER)
    Message.objects.filter(pk=message.pk).update(state="stopped")
    assert stuck_messages.ask_carriers(now=LATER)["waiting"] == 0
    assert provider.looked_up.total() == 0


def test_many_that_were_left_behind_are_all_settled() -> None:
    message = waiting()
    rows = [
        Message(
            site=message.site,
            patient=message.patient,
            review=message.review,
            purpose="reminder",
            key=f"copy-{number}",
            wanted_at=NOW,
            state="sending",
            claimed_at=NOW,
            handed_at=NOW if number % 2 else None,
        )
        for number in range(90)
    ]
    Message.objects.bulk_create(rows)
    assert stuck_messages.free_stuck(now=LATER) == {"waiting": 45, "unknown": 45}
    assert stuck_messages.free_stuck(now=LATER) == {"waiting": 0, "unknown": 0}
