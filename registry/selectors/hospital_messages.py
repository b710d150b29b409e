"""What the hospital's system sent, as a coordinator sees it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Count, Q, QuerySet

from registry.models.hospital_messages import HospitalFate, HospitalMessage
from registry.models.patients import Patient
from registry.rules import hl7_words, matching
from registry.rules.hl7_said import Said, read
from registry.rules.hl7_text import Segments, Unusable
from registry.selectors.patients import Candidate, candidates, search
from registry.selectors.visible import Viewer, site_ids, visible

SHOWS = {**dict(HospitalFate.choices), "all": "All"}
MOST_FOUND = 20


@dataclass(frozen=True)
class MessageLine:
    """One message: what it is about, and what became of it."""

    message: HospitalMessage
    what: str
    waits: bool
    # By name where that may be seen, else by key; '' for nobody.
    whose: str
    may_open: bool


@dataclass(frozen=True)
class MessageSaid:
    """What a message says: in words where it can be read, and its rows as they came."""

    lines: tuple[hl7_words.Line, ...]
    rows: tuple[str, ...]
    said: Said | None


UNSEEN = MessageSaid((), (), None)


def messages_seen(user: Viewer, show: str) -> "QuerySet[Any]":
    """Return the messages that a person may see, of one fate or all, the newest first."""
    rows = visible(user, HospitalMessage, "see_hospital_messages")
    if show != "all":
        rows = rows.filter(fate=show)
    found: QuerySet[Any] = rows.select_related("site", "settled_by", "patient__identity")
    return found.order_by("-received_at", "-id")


def counts(user: Viewer) -> dict[str, int]:
    """Return how many messages of each fate there are, as far as the person may see them."""
    rows = visible(user, HospitalMessage, "see_hospital_messages").order_by()
    return dict(rows.values_list("fate").annotate(many=Count("pk")))


def lines(user: Viewer, rows: Sequence[Any]) -> list[MessageLine]:
    """Return the lines of one page."""
    named = set(site_ids(user, "see_identity"))
    return [_line(row, may_name=row.site_id in named) for row in rows]


def said_by(user: Viewer, message: HospitalMessage) -> MessageSaid:
    """Return what a message says, to whoever may see who a patient is at its site."""
    if message.site_id not in site_ids(user, "see_identity") or not message.text:
        return UNSEEN
    rows = tuple(row for row in message.text.replace("\n", "\r").split("\r") if row.strip())
    try:
        found = read(Segments(message.text, message.encoding), ZoneInfo(message.site.time_zone))
    except Unusable:
        return MessageSaid((), rows, None)
    return MessageSaid(tuple(hl7_words.in_words(found)), rows, found)


def proposals(user: Viewer, said: Said | None, text: str) -> list[Candidate]:
    """Return whom a message may be about: who was searched for, else who is like what it says."""
    if text:
        found = search(user, text)[:MOST_FOUND]
        return [Candidate(patient, "found by what you typed") for patient in found]
    if said is None:
        return []
    born = said.person.born
    given = matching.Person(
        family_name=said.person.values.get("family_name", ""),
        given_name=said.person.values.get("given_name", ""),
        birth_date=born.earliest if born is not None and born.exact else None,
        sex=said.person.values.get("sex", ""),
        phone=said.person.values.get("phone", ""),
    )
    return candidates(user, given, [one.value for one in said.person.numbers])


def _line(message: HospitalMessage, *, may_name: bool) -> MessageLine:
    patient: Patient | None = message.patient
    identity = getattr(patient, "identity", None)
    shown = "" if patient is None else patient.key
    if identity is not None and may_name:
        shown = str(identity)
    return MessageLine(
        message=message,
        what=hl7_words.event_words(message.event),
        waits=message.fate in (HospitalFate.WAITING, HospitalFate.REFUSED),
        whose=shown,
        may_open=bool(identity is not None and may_name and patient and not patient.merged_into_id),
    )


def naming(
    *, patients: Sequence[Patient], numbers: Sequence[str], names: Sequence[str]
) -> "QuerySet[HospitalMessage]":
    """Return the messages that were about one of these patients, or that name one.

    `names` are family and given name as a message has them, with its usual separator between.
    """
    like = Q(patient__in=patients)
    words = [f"{before}{one}{after}" for one in numbers for before in "|~" for after in "^|~"]
    for word in (*words, *names):
        like |= Q(text__icontains=word)
    return HospitalMessage.objects.filter(like)
