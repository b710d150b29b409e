"""Answers to HL7 v2 messages: that it was kept, that it cannot be used, or that its kind is not taken.

Source: HL7 v2.5.1, chapter 2: MSA 2.15.8, ERR 2.15.5, original mode of acknowledgement 2.9.2.
"""

import re
from dataclasses import dataclass
from datetime import UTC, datetime

ACCEPTED, ERROR, REJECTED = "AA", "AE", "AR"
# Table 0357: what kind of fault it was.
FAULTS = {
    ERROR: "207^Application internal error^HL70357",
    REJECTED: "200^Unsupported message type^HL70357",
}
SAFE = re.compile(r"[^\w .:+/@-]", re.ASCII)


@dataclass(frozen=True)
class Asked:
    """Of a message's header what its answer repeats."""

    application: str = ""
    facility: str = ""
    to_application: str = ""
    to_facility: str = ""
    event: str = ""
    control_id: str = ""
    version: str = "2.5.1"


def asked_by(content: bytes) -> Asked:
    """Return what the header of a message says, as far as it has one; nothing is refused here."""
    header = re.split(rb"[\r\n]", content.lstrip(b"\x0b\r\n "), maxsplit=1)[0][:4000]
    if not header.startswith(b"MSH") or len(header) < 8:
        return Asked()
    text = header.decode("utf-8", "replace")
    fields = [text[:3], text[3], *text.split(text[3])[1:]]

    def field(number: int) -> str:
        return fields[number] if number < len(fields) else ""

    kind = field(9).split(text[4])
    event = kind[1] if len(kind) > 1 else ""
    return Asked(field(3), field(4), field(5), field(6), event, field(10), field(12) or "2.5.1")


def answer(asked: Asked, code: str, *, why: str = "", now: datetime, name: str) -> bytes:
    """Return the answer as bytes: AA, AE or AR for the message, and for the last two why.

    `name` is the answer's own control id. `why` must hold nothing of a patient.
    """
    header = [
        "MSH",
        "^~\\&",
        _kept(asked.to_application),
        _kept(asked.to_facility),
        _kept(asked.application),
        _kept(asked.facility),
        now.astimezone(UTC).strftime("%Y%m%d%H%M%S+0000"),
        "",
        f"ACK^{_plain(asked.event)}^ACK" if asked.event else "ACK",
        _plain(name),
        "P",
        _plain(asked.version),
    ]
    lines = ["|".join(header), f"MSA|{code}|{_kept(asked.control_id)}"]
    if why:
        lines.append(f"ERR|||{FAULTS.get(code, FAULTS[ERROR])}|E||||{_escaped(why)}")
    return ("\r".join(lines) + "\r").encode("utf-8")


def _kept(text: str) -> str:
    """Return a name of a system as it was written, without what could begin another field or row."""
    return re.sub(r"[|\r\n\x0b\x1c]", "", text)[:180]


def _plain(text: str) -> str:
    return SAFE.sub("", text)[:60]


def _escaped(text: str) -> str:
    kept = re.sub(r"[\x00-\x1f]", " ", text)[:250]
    for letter, code in (
        ("\\", "\\E\\"),
        ("|", "\\F\\"),
        ("^", "\\S\\"),
        ("&", "\\T\\"),
        ("~", "\\R\\"),
    ):
        kept = kept.replace(letter, code)
    return kept
