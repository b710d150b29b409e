import asyncio
import logging
import secrets
import signal
import threading
from argparse import ArgumentParser
from contextlib import suppress
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import close_old_connections
from django.utils import timezone

from registry.exchange.mllp import Limits, Line, networks
from registry.models.hospital_messages import HospitalDoor, HospitalWay
from registry.models.sites import Site
from registry.rules.hl7_answers import ACCEPTED, ERROR, Asked, answer, asked_by
from registry.services import hospital_messages

LOG = logging.getLogger(__name__)


class Command(BaseCommand):
    help = (
        "Listen for HL7 v2 messages of a site's hospital system (MLLP). AA says that a message was kept, "
        "AE that it cannot be used, AR that its kind is not taken. Stops at Ctrl-C. The line is not "
        "encrypted: on a network, stand it behind a tunnel."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--site", required=True, help="code of the site whose system sends")
        parser.add_argument("--port", type=int, default=2575)
        parser.add_argument("--host", default="127.0.0.1", help="address to listen at")

    def handle(self, *args: Any, **given: Any) -> None:
        site = Site.objects.filter(code=given["site"], is_active=True).first()
        if site is None:
            raise CommandError(f"There is no site '{given['site']}'.")
        if not HospitalDoor.objects.filter(site=site, is_open=True).exists():
            raise CommandError(
                f"{site} takes nothing: open its door under Setup, Hospital's system."
            )
        line = Line(Takes(site), self._refuse, _limits())
        _end_by_signals()
        with suppress(KeyboardInterrupt):
            try:
                asyncio.run(line.listen(given["host"], given["port"], self._tell(given["host"])))
            except OSError as fault:
                where = f"{given['host']}:{given['port']}"
                raise CommandError(f"Cannot listen at {where}: {fault.strerror}.") from fault
        self.stdout.write("Stopped.")

    def _tell(self, host: str) -> Any:
        def ready(port: int) -> None:
            self.stdout.write(f"Listening at {host}:{port}.")
            self.stdout.flush()

        return ready

    def _refuse(self, why: bytes) -> bytes:
        """Answer what is no message at all; there is nothing in it to keep."""
        return _answer(Asked(), ERROR, why.decode())


class Takes:
    """Takes a message for a site: kept and committed first, then answered."""

    def __init__(self, site: Site) -> None:
        self._site = site

    def __call__(self, content: bytes) -> bytes:
        asked = asked_by(content)
        close_old_connections()
        try:
            row = hospital_messages.take(
                site=self._site, content=content, way=HospitalWay.LINE, now=timezone.now()
            )
        except Exception as fault:
            # Whatever it was, the message is not kept, and its sender has to send it again.
            LOG.exception("a message could not be kept")
            return _answer(asked, ERROR, f"Not kept, send it again ({type(fault).__name__}).")
        finally:
            close_old_connections()
        return _answer(asked, row.answer, "" if row.answer == ACCEPTED else row.because)


def _end_by_signals() -> None:
    """Let an interrupt and a request to end both stop the listener, whoever started it.

    What is started in the background of a shell ignores interrupts unless it says otherwise.
    """
    if threading.current_thread() is threading.main_thread():
        for one in (signal.SIGINT, signal.SIGTERM):
            signal.signal(one, signal.default_int_handler)


def _answer(asked: Asked, code: str, why: str) -> bytes:
    return answer(asked, code, why=why, now=timezone.now(), name=secrets.token_hex(10))


def _limits() -> Limits:
    try:
        allowed = networks(settings.HL7_ALLOWED)
    except ValueError as fault:
        raise CommandError(f"HOLDFAST_HL7_ALLOWED: {fault}; write 10.1.2.3, 10.2.0.0/16") from fault
    return Limits(
        allowed=allowed,
        most_bytes=settings.HL7_MOST_KB * 1000,
        connections=settings.HL7_CONNECTIONS,
        idle=float(settings.HL7_IDLE_SECONDS),
        frame=float(settings.HL7_FRAME_SECONDS),
    )
