"""Handing one message to whoever carries it: mail server, files, console, or a provider by HTTP.

What counts is what a carrier's answer lets one conclude. Only 'not taken for certain' may be tried
again; where the message had left us and no answer came, it is not known whether it went.
"""

import os
import smtplib
import sys
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from django.conf import settings
from django.core.mail import EmailMessage, get_connection

from followup.exchange.http_delivery import HttpCarrier
from followup.exchange.parcels import Answer, Outcome, Parcel, Taken

TRANSIENT, PERMANENT = 400, 500


class Carrier(Protocol):
    """Takes messages of one means; `can_look_up` says whether it can be asked what it has taken."""

    @property
    def name(self) -> str:
        """The word for it in the settings."""
        ...

    @property
    def can_look_up(self) -> bool:
        """Say whether it can be asked."""
        ...

    def hand_over(self, parcel: Parcel) -> Answer:
        """Hand one message over and say what became of it; a fault outside is an answer too."""
        ...

    def look_up(self, key: str) -> Taken:
        """Say whether the message with a key was taken."""
        ...


def carrier_for(means: str) -> Carrier:
    """Return the carrier that the settings give a means to.

    Raises KeyError for a means or carrier that the settings do not know.
    """
    given: Mapping[str, Any] = settings.CARRIERS[means]
    if given["by"] == "http":
        return HttpCarrier(
            url=given["url"],
            method=given["method"],
            headers={given["header"]: given["secret"]} if given["secret"] else {},
            look_up_url=given["look_up_url"],
            timeout_seconds=given["timeout_seconds"],
        )
    others: Mapping[str, Carrier] = {
        "mail": MailCarrier(),
        "file": FileCarrier(Path(given["folder"])),
        "console": ConsoleCarrier(),
    }
    return others[given["by"]]


@dataclass(frozen=True)
class MailCarrier:
    """Sends by Django's e-mail backend; a mail server cannot be asked afterwards."""

    name: str = "mail"
    can_look_up: bool = False

    def hand_over(self, parcel: Parcel) -> Answer:
        """Open the connection first: what fails until then was certainly not taken."""
        connection = get_connection()
        try:
            connection.open()
        except (OSError, smtplib.SMTPException) as fault:
            return Answer(Outcome.RETRY, f"the mail server cannot be reached: {_kind(fault)}")
        domain = settings.DEFAULT_FROM_EMAIL.rsplit("@", 1)[-1].strip("> ")
        name = f"<{parcel.key}@{domain}>"
        letter = EmailMessage(
            parcel.subject,
            parcel.text,
            settings.DEFAULT_FROM_EMAIL,
            [parcel.to],
            headers={"Message-ID": name, "Auto-Submitted": "auto-generated"},
            connection=connection,
        )
        try:
            taken = connection.send_messages([letter])
        except smtplib.SMTPRecipientsRefused as fault:
            return _by_code(max(code for code, _ in fault.recipients.values()))
        except smtplib.SMTPResponseException as fault:
            return _by_code(fault.smtp_code)
        except (OSError, smtplib.SMTPException) as fault:
            return Answer(Outcome.UNKNOWN, f"the connection broke while sending: {_kind(fault)}")
        finally:
            # What was taken stays taken, however the goodbye goes.
            with suppress(OSError, smtplib.SMTPException):
                connection.close()
        if not taken:
            return Answer(Outcome.REFUSED, "the mail backend took nothing")
        return Answer(Outcome.ACCEPTED, reference=name)

    def look_up(self, key: str) -> Taken:
        """Say that it is not known."""
        return Taken.NOT_KNOWN


def _by_code(code: int) -> Answer:
    """Tell a mail server's 'later' (4xx) from its 'never' (5xx): RFC 5321, section 4.2.1."""
    outcome = Outcome.RETRY if TRANSIENT <= code < PERMANENT else Outcome.REFUSED
    return Answer(outcome, f"the mail server answered {code}")


def _kind(fault: Exception) -> str:
    # Its text may hold the address; its kind does not.
    return type(fault).__name__


@dataclass(frozen=True)
class FileCarrier:
    """Writes each message to a file of its own, for somebody to print or for a trial."""

    folder: Path
    name: str = "file"
    can_look_up: bool = True

    def hand_over(self, parcel: Parcel) -> Answer:
        """Write the file whole, under the message's key; one that is there is the same message."""
        try:
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            fresh = self.folder / f".{parcel.key}.{os.getpid()}"
            fresh.touch(mode=0o600)
            fresh.write_text(_sheet(parcel), encoding="utf-8")
            fresh.replace(self._place(parcel.key))
        except OSError as fault:
            return Answer(Outcome.RETRY, f"the file cannot be written: {fault.strerror}")
        return Answer(Outcome.ACCEPTED, reference=self._place(parcel.key).name)

    def look_up(self, key: str) -> Taken:
        """Say whether the file is there; one that is gone may have been printed and cleared away."""
        return Taken.YES if self._place(key).exists() else Taken.NOT_KNOWN

    def _place(self, key: str) -> Path:
        return self.folder / f"{key}.txt"


@dataclass(frozen=True)
class ConsoleCarrier:
    """Prints each message, for whoever tries things out."""

    name: str = "console"
    can_look_up: bool = False

    def hand_over(self, parcel: Parcel) -> Answer:
        """Print it."""
        sys.stdout.write(f"{_sheet(parcel)}\n")
        sys.stdout.flush()
        return Answer(Outcome.ACCEPTED)

    def look_up(self, key: str) -> Taken:
        """Say that it is not known."""
        return Taken.NOT_KNOWN


def _sheet(parcel: Parcel) -> str:
    head = f"By: {parcel.means}\nTo: {parcel.to}\n"
    subject = f"Subject: {parcel.subject}\n" if parcel.subject else ""
    return f"{head}{subject}\n{parcel.text}\n"
