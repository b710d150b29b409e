"""What a worker that died left behind: given back, asked about, or parked; never sent blindly."""

import uuid
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from threading import Event
from typing import Any

import pytest

from followup.exchange.http_delivery import HttpCarrier
from followup.exchange.parcels import Taken
from followup.models import Message, MessageStep
from followup.rules.retry import MOST_LOOK_UPS
from followup.services import delivery, stuck_messages
from registry.services import jobs
from tests.builders import NOW
from tests.many import copies
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
        settings.CARRIERS = by_http(running, look_up=True)
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
    assert now_of(message).state == "waiting"
    run(LATER)
    assert now_of(message).state == "sent"
    assert provider.taken == {str(message.uuid): 1}
    assert steps(message)[2:4] == ["unknown", "looked_up"]
    assert message.tries == 2


def test_a_carrier_is_asked_only_once_it_has_surely_made_up_its_mind(
    provider: Provider, settings: Any
) -> None:
    message, takes = waiting(phone="1"), Event()
    provider.treat = lambda key, times: Treatment(wait_before=takes)
    settings.CARRIERS = by_http(provider, look_up=True, seconds=0.3)
    run(NOW)
    run(SOON)
    assert (now_of(message).state, provider.looked_up.total()) == ("unknown", 0)
    settings.CARRIERS = by_http(provider, look_up=True)
    takes.set()
    while not provider.taken:
        pass
    run(LATER)
    assert (now_of(message).state, provider.received.total()) == ("sent", 1)


def test_a_carrier_that_cannot_say_is_asked_some_times_and_then_a_person(
    settings: Any,
) -> None:
    policy(sends_email=False)
    with serving() as gone:
        settings.CARRIERS = by_http(gone, look_up=True)
        message = abandoned(begun=True)
    for day in range(MOST_LOOK_UPS + 3):
        run(LATER + timedelta(days=day))
    assert now_of(message).state == "unknown"
    assert steps(message).count("looked_up") == MOST_LOOK_UPS


def parked(number: int) -> list[Message]:
    """Leave so many text messages of which nobody knows whether they went."""
    first = abandoned(begun=True)
    stuck_messages.free_stuck(now=LATER)
    first.refresh_from_db()
    return [
        first,
        *copies(first, number - 1, key=lambda n: f"copy-{n}", uuid=lambda n: uuid.UUID(int=n)),
    ]


def asked() -> int:
    return MessageStep.objects.filter(kind="looked_up").count()


def test_what_waits_goes_before_any_carrier_is_asked(
    provider: Provider, monkeypatch: pytest.MonkeyPatch
) -> None:
    parked(1)
    waiting(phone="2")
    gone_by_then = []

    def look_up(ours: HttpCarrier, key: str) -> Taken:
        gone_by_then.append(provider.taken.total())
        return Taken.NOT_KNOWN

    monkeypatch.setattr(HttpCarrier, "look_up", look_up)
    run(LATER)
    assert gone_by_then == [1]


def test_a_run_asks_about_a_few_and_shows_that_it_lives_after_each(provider: Provider) -> None:
    parked(stuck_messages.AT_ONCE + 5)
    beats: list[int] = []
    with jobs.heard_by(beats.append):
        jobs.run_job("ask", lambda: stuck_messages.ask_carriers(now=LATER), now=LATER)
    assert (asked(), beats) == (20, [1] * 20)
    stuck_messages.ask_carriers(now=LATER)
    assert (asked(), provider.looked_up.total()) == (25, 25)


def test_a_carrier_that_does_not_answer_is_asked_once_and_the_others_all_the_same(
    settings: Any, tmp_path: Path
) -> None:
    policy(sends_email=False)
    first, *others = parked(4)
    letter = others.pop()
    Message.objects.filter(pk=letter.pk).update(means="letter")
    (tmp_path / f"{letter.uuid}.txt").touch()
    with serving() as gone:
        carriers = by_http(gone, look_up=True)
    settings.CARRIERS = {**carriers, "letter": {"by": "file", "folder": str(tmp_path)}}
    assert stuck_messages.ask_carriers(now=LATER)["sent"] == 1
    assert now_of(letter).state == "sent"
    assert [steps(message).count("looked_up") for message in (first, *others)] == [1, 0, 0]
    said = first.steps.get(kind="looked_up").detail
    assert said == "the carrier did not answer whether it took it"
    # The others come first the next time.
    stuck_messages.ask_carriers(now=LATER)
    assert [steps(message).count("looked_up") for message in (first, *others)] == [1, 1, 0]


def test_a_carrier_that_answers_without_knowing_is_asked_on(provider: Provider) -> None:
    parked(3)
    provider.look_up_status = 503
    stuck_messages.ask_carriers(now=LATER)
    assert asked() == 3


def test_a_question_that_falls_over_leaves_it_open_and_holds_nothing_up(
    provider: Provider, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    messages = parked(2)

    def fall_over(ours: HttpCarrier, key: str) -> Taken:
        raise RuntimeError("Bearer not-a-secret")

    monkeypatch.setattr(HttpCarrier, "look_up", fall_over)
    fresh = waiting(phone="2")
    assert run(LATER)["sent"] == 1
    assert now_of(fresh).state == "sent"
    assert [now_of(message).state for message in messages] == ["unknown", "unknown"]
    assert asked() == 2
    assert f"message {messages[0].pk} cannot be asked about: RuntimeError" in caplog.text
    assert "not-a-secret" not in caplog.text


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
