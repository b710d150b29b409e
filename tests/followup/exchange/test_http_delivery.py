"""A provider that takes, refuses, fails, or falls silent, on this machine."""

import json
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import pytest

from followup.exchange.http_delivery import HttpCarrier
from followup.exchange.parcels import Answer, Outcome, Parcel, Taken
from tests.provider import Provider, Treatment, serving

PARCEL = Parcel("key-1", "text", "0555 010 100", "", "Your visit is on 1 December.", "en")


def carrier(provider: Provider, seconds: float = 60, **more: Any) -> HttpCarrier:
    return HttpCarrier(url=provider.url, timeout_seconds=seconds, **more)


def answered(treatment: Treatment) -> Answer:
    with serving(lambda key, times: treatment) as provider:
        return carrier(provider).hand_over(PARCEL)


def test_a_message_is_sent_whole_with_its_key_and_the_secret() -> None:
    with serving() as provider:
        answer = carrier(provider, headers={"X-Api-Key": "not-a-secret"}).hand_over(PARCEL)
    assert answer == Answer(Outcome.ACCEPTED, reference="ref-key-1")
    assert provider.bodies == [
        {
            "key": "key-1",
            "means": "text",
            "to": "0555 010 100",
            "subject": "",
            "text": "Your visit is on 1 December.",
            "language": "en",
        }
    ]
    assert provider.headers[0]["Idempotency-Key"] == "key-1"
    assert provider.headers[0]["X-Api-Key"] == "not-a-secret"


@pytest.mark.parametrize(
    ("status", "outcome"),
    [
        (200, Outcome.ACCEPTED),
        (202, Outcome.ACCEPTED),
        (204, Outcome.ACCEPTED),
        (302, Outcome.REFUSED),
        (400, Outcome.REFUSED),
        (401, Outcome.REFUSED),
        (409, Outcome.REFUSED),
        (422, Outcome.REFUSED),
        (408, Outcome.RETRY),
        (429, Outcome.RETRY),
        (503, Outcome.RETRY),
        (500, Outcome.UNKNOWN),
        (502, Outcome.UNKNOWN),
        (504, Outcome.UNKNOWN),
        (520, Outcome.UNKNOWN),
    ],
)
def test_what_a_status_lets_one_conclude(status: int, outcome: Outcome) -> None:
    assert answered(Treatment(status=status)).outcome is outcome


@pytest.mark.parametrize(
    ("status", "outcome"),
    [
        (202, Outcome.ACCEPTED),
        (400, Outcome.REFUSED),
        (429, Outcome.RETRY),
        (409, Outcome.UNKNOWN),
        (422, Outcome.UNKNOWN),
    ],
)
def test_a_key_that_comes_again_may_be_refused_for_what_was_taken_before(
    status: int, outcome: Outcome
) -> None:
    with serving(lambda key, times: Treatment(status=status)) as provider:
        answer = carrier(provider).hand_over(replace(PARCEL, again=True))
    assert answer.outcome is outcome


def test_a_provider_that_falls_silent_may_have_taken_it() -> None:
    over = threading.Event()
    with serving(lambda key, times: Treatment(wait_after=over)) as provider:
        answer = carrier(provider, seconds=0.3).hand_over(PARCEL)
        over.set()
    assert answer == Answer(Outcome.UNKNOWN, "no answer after the message had left: ReadTimeout")


def test_a_connection_that_breaks_without_an_answer_may_have_brought_it() -> None:
    answer = answered(Treatment(status=0))
    assert answer.outcome is Outcome.UNKNOWN
    assert "RemoteProtocolError" in answer.detail


def test_where_nobody_listens_nothing_was_taken() -> None:
    with serving() as provider:
        gone = carrier(provider)
    answer = gone.hand_over(PARCEL)
    assert answer == Answer(Outcome.RETRY, "the provider cannot be reached: ConnectError")


@contextmanager
def listening_but_not_reading() -> Iterator[int]:
    """Take connections and close them at once."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        closing = threading.Event()

        def close_each() -> None:
            while not closing.is_set():
                try:
                    server.accept()[0].close()
                except OSError:
                    return

        thread = threading.Thread(target=close_each)
        thread.start()
        try:
            yield server.getsockname()[1]
        finally:
            closing.set()
            server.shutdown(socket.SHUT_RDWR)
            thread.join()


def test_a_connection_that_was_made_and_broke_leaves_it_open() -> None:
    with listening_but_not_reading() as port:
        answer = HttpCarrier(url=f"http://127.0.0.1:{port}/", timeout_seconds=0.5).hand_over(PARCEL)
    assert answer.outcome is Outcome.UNKNOWN


def test_an_address_that_is_none_reaches_nobody() -> None:
    assert HttpCarrier(url="http://[").hand_over(PARCEL).outcome is Outcome.RETRY


def test_a_provider_can_be_asked_what_it_took() -> None:
    with serving() as provider:
        ours = carrier(provider, look_up_url=provider.look_up_url)
        assert ours.can_look_up
        assert ours.look_up("key-1") is Taken.NO
        ours.hand_over(PARCEL)
        assert ours.look_up("key-1") is Taken.YES
        assert ours.look_up("key-2") is Taken.NO
        provider.look_up_status = 500
        assert ours.look_up("key-1") is Taken.NOT_KNOWN
    assert ours.look_up("key-1") is Taken.NO_ANSWER
    astray = HttpCarrier("", look_up_url="http://provider.example:port/{key}")
    assert astray.look_up("key-1") is Taken.NOT_KNOWN


def test_a_provider_that_falls_silent_when_asked_gives_no_answer() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        address = f"http://127.0.0.1:{server.getsockname()[1]}/{{key}}"
        ours = HttpCarrier("", look_up_url=address, timeout_seconds=0.2)
        assert ours.look_up("key-1") is Taken.NO_ANSWER


def test_a_provider_without_that_address_cannot_be_asked() -> None:
    ours = HttpCarrier(url="https://provider.example/")
    assert not ours.can_look_up
    assert ours.look_up("key-1") is Taken.NOT_KNOWN


def test_neither_the_secret_nor_the_patient_stands_in_what_is_written_down() -> None:
    with serving(lambda key, times: Treatment(status=400)) as provider:
        ours = carrier(provider, headers={"Authorization": "Bearer not-a-secret"})
        answer = ours.hand_over(PARCEL)
    assert "not-a-secret" not in repr(ours)
    assert "0555" not in json.dumps(answer.detail)
