"""The line by which a hospital's system sends HL7 v2 messages: frames of MLLP over a plain connection.

Source: HL7 v2 transport specification, minimal lower layer protocol (MLLP): a vertical tab, the message,
a file separator and a carriage return. Nothing here is encrypted: on a network, stand it behind a tunnel.
"""

import asyncio
import logging
from asyncio import IncompleteReadError, LimitOverrunError
from collections.abc import Awaitable, Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from ipaddress import IPv4Network, IPv6Network, ip_address, ip_network

from hl7.mllp import HL7StreamReader, HL7StreamWriter, start_hl7_server
from hl7.mllp.streams import CARRIAGE_RETURN, END_BLOCK, START_BLOCK

LOG = logging.getLogger(__name__)
Network = IPv4Network | IPv6Network
# What is done with a message, and its answer; runs outside the loop, one message after the other.
Handler = Callable[[bytes], bytes]


@dataclass(frozen=True)
class Limits:
    """Who may connect, and how much of anything a sender gets; the times are seconds."""

    allowed: tuple[Network, ...]
    most_bytes: int = 1_000_000
    connections: int = 20
    idle: float = 3600.0
    frame: float = 30.0


class Cut(Exception):
    """A connection that is not gone on with; the text says why, `answers` whether the sender is told."""

    def __init__(self, why: str, *, answers: bool = False) -> None:
        """Say why."""
        self.answers = answers
        super().__init__(why)


def networks(texts: Sequence[str]) -> tuple[Network, ...]:
    """Return addresses and networks as they are compared.

    Raises ValueError naming what is none.
    """
    return tuple(ip_network(text, strict=False) for text in texts)


class Line:
    """A listening line: takes frames from several senders at once, and answers each message in turn."""

    def __init__(self, handler: Handler, refused: Handler, limits: Limits) -> None:
        """Take what to do with a message and with a frame that is too long, and the limits."""
        self._handler, self._refused, self._limits = handler, refused, limits
        # One thread: messages of a site are taken one after the other in any case.
        self._worker = ThreadPoolExecutor(max_workers=1, thread_name_prefix="hl7")
        self._open = 0

    async def listen(
        self, host: str, port: int, ready: Callable[[int], Awaitable[None] | None] | None = None
    ) -> None:
        """Listen until cancelled; `ready` is told the port, which is chosen where it is 0."""
        server = await start_hl7_server(
            self._connected, host, port, limit=self._limits.most_bytes, encoding="utf-8"
        )
        async with server:
            if ready is not None:
                ready(server.sockets[0].getsockname()[1])
            await server.serve_forever()

    async def _connected(self, reader: HL7StreamReader, writer: HL7StreamWriter) -> None:
        peer = writer.get_extra_info("peername")
        try:
            self._admit(peer)
            self._open += 1
            try:
                await self._converse(reader, writer)
            finally:
                self._open -= 1
        except Cut as fault:
            LOG.warning("a line from %s was cut: %s", peer[0] if peer else "nowhere", fault)
        except (ConnectionError, TimeoutError):
            LOG.info("a line from %s was lost", peer[0] if peer else "nowhere")
        except Exception:
            # One line must not take the listener and everybody else's lines with it.
            LOG.exception("a line was cut by a fault of ours")
        finally:
            writer.close()

    def _admit(self, peer: Sequence[str] | None) -> None:
        address = ip_address(peer[0].partition("%")[0]) if peer else None
        mapped = getattr(address, "ipv4_mapped", None) or address
        if mapped is None or not any(mapped in network for network in self._limits.allowed):
            raise Cut("its address is not allowed to connect")
        if self._open >= self._limits.connections:
            raise Cut(f"{self._open} lines are open already")

    async def _converse(self, reader: HL7StreamReader, writer: HL7StreamWriter) -> None:
        while True:
            try:
                content = await self._frame(reader)
            except Cut as fault:
                if fault.answers:
                    await self._answer(writer, self._refused, str(fault).encode())
                raise
            if content is None:
                return
            await self._answer(writer, self._handler, content)

    async def _frame(self, reader: HL7StreamReader) -> bytes | None:
        """Return the next message, None at the end of the connection.

        A sender may be silent for long between messages, and not in the middle of one.
        """
        try:
            first = await asyncio.wait_for(reader.read(1), self._limits.idle)
        except TimeoutError as fault:
            raise Cut("it was silent for too long") from fault
        if not first:
            return None
        if first != START_BLOCK:
            raise Cut("what came is no frame: it does not begin with a vertical tab", answers=True)
        try:
            block = await asyncio.wait_for(
                reader.readuntil(END_BLOCK + CARRIAGE_RETURN), self._limits.frame
            )
        except TimeoutError as fault:
            raise Cut("a message was begun and not ended in time", answers=True) from fault
        except LimitOverrunError as fault:
            raise Cut(
                f"a message is longer than {self._limits.most_bytes:,} bytes", answers=True
            ) from fault
        except IncompleteReadError as fault:
            raise Cut("it ended in the middle of a message") from fault
        return bytes(block[: -len(END_BLOCK + CARRIAGE_RETURN)])

    async def _answer(self, writer: HL7StreamWriter, handler: Handler, content: bytes) -> None:
        loop = asyncio.get_running_loop()
        answer = await loop.run_in_executor(self._worker, handler, content)
        writer.writeblock(answer)
        await asyncio.wait_for(writer.drain(), self._limits.frame)
