"""The line: frames, limits and who may connect, with real sockets."""

import asyncio
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import pytest

from registry.exchange import mllp
from registry.exchange.mllp import Limits, Line

QUICK = Limits(allowed=mllp.networks(["127.0.0.1"]), most_bytes=1000, connections=4)


def upper(content: bytes) -> bytes:
    return content.upper()


def refused(why: bytes) -> bytes:
    return b"NO: " + why


@contextmanager
def listening(limits: Limits = QUICK, handler: mllp.Handler = upper) -> Iterator[int]:
    """Let a line listen in a thread of its own, and yield its port."""
    port: list[int] = []
    ready, over = threading.Event(), threading.Event()

    async def serve() -> None:
        def told(number: int) -> None:
            port.append(number)
            ready.set()

        task = asyncio.create_task(Line(handler, refused, limits).listen("127.0.0.1", 0, told))
        while not over.is_set():
            await asyncio.sleep(0.01)
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)

    thread = threading.Thread(target=lambda: asyncio.run(serve()))
    thread.start()
    try:
        assert ready.wait(20)
        yield port[0]
    finally:
        over.set()
        thread.join(20)


def framed(content: bytes) -> bytes:
    return b"\x0b" + content + b"\x1c\r"


def spoken(port: int, *pieces: bytes, answers: int = 1) -> bytes:
    """Send pieces and return what comes back: so many answers, or all until the line is cut."""
    got = b""
    with socket.create_connection(("127.0.0.1", port), timeout=20) as line:
        for piece in pieces:
            line.sendall(piece)
        while got.count(b"\x1c\r") < answers:
            try:
                more = line.recv(65536)
            except ConnectionResetError:
                break
            if not more:
                break
            got += more
    return got


def test_each_message_of_a_line_is_answered_in_turn() -> None:
    with listening() as port:
        assert spoken(port, framed(b"one") + framed(b"two"), answers=2) == framed(b"ONE") + framed(
            b"TWO"
        )


def test_a_message_may_come_in_pieces_and_hold_its_separators() -> None:
    with listening() as port:
        assert spoken(port, b"\x0ba\r", b"b\x1c", b"c\x1c\r") == framed(b"A\rB\x1cC")


def test_several_senders_at_once_get_their_own_answers() -> None:
    with listening() as port:
        got: dict[int, bytes] = {}

        def one(number: int) -> None:
            got[number] = spoken(port, framed(f"from {number}".encode()))

        threads = [threading.Thread(target=one, args=(number,)) for number in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(20)
    assert got == {number: framed(f"FROM {number}".encode()) for number in range(4)}


def test_an_address_that_is_not_allowed_is_cut_without_a_word() -> None:
    with listening(replace(QUICK, allowed=mllp.networks(["10.0.0.0/8"]))) as port:
        assert spoken(port, framed(b"one")) == b""


def test_no_more_lines_are_open_than_allowed() -> None:
    with listening(replace(QUICK, connections=1)) as port:
        with socket.create_connection(("127.0.0.1", port), timeout=20) as first:
            first.sendall(framed(b"one"))
            assert first.recv(100) == framed(b"ONE")
            assert spoken(port, framed(b"two")) == b""
        # The place is free again when the first has gone.
        for _ in range(200):
            if spoken(port, framed(b"two")) == framed(b"TWO"):
                return
    pytest.fail("the place was never free again")


@pytest.mark.parametrize("ended", [True, False])
def test_a_message_that_is_too_long_is_refused_and_the_line_cut(ended: bool) -> None:
    content = b"\x0b" + b"x" * 5000 + (b"\x1c\r" if ended else b"")
    with listening() as port:
        assert spoken(port, content, answers=2) == framed(
            b"NO: a message is longer than 1,000 bytes"
        )


def test_what_is_no_frame_is_refused_and_the_line_cut() -> None:
    with listening() as port:
        assert b"no frame" in spoken(port, b"GET / HTTP/1.1\r\n\r\n", answers=2)


def test_a_sender_who_does_not_end_a_message_is_cut() -> None:
    with listening(replace(QUICK, frame=0.2)) as port:
        assert b"not ended in time" in spoken(port, b"\x0bslow", answers=2)


def test_a_sender_who_says_nothing_at_all_is_cut() -> None:
    with listening(replace(QUICK, idle=0.2)) as port:
        assert spoken(port) == b""


def test_a_fault_of_the_handler_cuts_one_line_and_no_other() -> None:
    def handler(content: bytes) -> bytes:
        if content == b"bad":
            raise ZeroDivisionError
        return content

    with listening(handler=handler) as port:
        assert spoken(port, framed(b"bad")) == b""
        assert spoken(port, framed(b"good")) == framed(b"good")


@pytest.mark.parametrize("text", ["x", "10.0.0.0/99", "1.2.3"])
def test_an_address_that_is_none_is_named(text: str) -> None:
    with pytest.raises(ValueError, match=text.split("/", maxsplit=1)[0]):
        mllp.networks([text])


def test_networks_and_single_addresses_may_be_allowed() -> None:
    found: Any = mllp.networks(["10.1.2.3", "10.2.0.0/16", "::1"])
    assert [str(one) for one in found] == ["10.1.2.3/32", "10.2.0.0/16", "::1/128"]
