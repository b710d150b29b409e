"""Taking what the hospital's system sends: each message kept once, with what became of it and why."""

import hashlib
import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import OperationalError, transaction
from django.db.models import F
from django.db.models.functions import Coalesce
from django.utils import timezone

from registry import notices
from registry.errors import BadInput, HoldfastError, IllegalTransition
from registry.models.hospital_messages import (
    HospitalAnswer,
    HospitalDoor,
    HospitalFate,
    HospitalMessage,
    HospitalRecord,
)
from registry.models.patients import Patient
from registry.models.people import Person
from registry.models.retention import RetentionKind
from registry.models.sites import Site
from registry.rules import hl7_answers, hl7_said, hl7_text
from registry.selectors import hospital_messages as selector
from registry.selectors import retention as holds
from registry.services import hospital_people, jobs, records, retention
from registry.services.background import background_person
from registry.services.hospital_people import REASON, Outcome, Taking, Waits

LONGEST = 1_000_000
NOT_OURS_DAYS = 7
UNSETTLED = (HospitalFate.WAITING, HospitalFate.REFUSED)
GONE = "erased on request"
LOG = logging.getLogger(__name__)


@dataclass(frozen=True)
class Forgotten:
    """How many texts were let go, and how many notes of messages about nobody of ours."""

    texts_forgotten: int
    notes_deleted: int


def take(*, site: Site, content: bytes, way: str, now: datetime) -> HospitalMessage:
    """Keep a message and act on it, all in one transaction; the same bytes count once.

    What was about nobody of ours is acted on again: they may have become a patient here since.

    What cannot be used is kept as well, with the answer that it gets. Raises BadInput where the site
    takes nothing, and whatever says that the database cannot be reached: then nothing was kept.
    """
    content = content.strip(b"\r\n\x0b\x1c ")
    digest = hashlib.sha256(content).hexdigest()
    by = background_person()
    with records.change(by=by, reason=REASON):
        door = _door(site)
        before = HospitalMessage.objects.filter(site=site, digest=digest).first()
        if before is not None and before.fate != HospitalFate.NOT_OURS:
            HospitalMessage.objects.filter(pk=before.pk).update(times=F("times") + 1)
            return before
        message = before or HospitalMessage(site=site, digest=digest, fate=HospitalFate.WAITING)
        message.way, message.received_at = way, now
        message.times += before is not None
        today = timezone.localtime(now, ZoneInfo(site.time_zone)).date()
        _act(message, content, Taking(door, by, now, today))
    return message


def take_again(
    *, message: HospitalMessage, patient: Patient | None, by: Person, now: datetime
) -> HospitalMessage:
    """Take a message once more that waited or was refused, for a patient whom somebody chose if any.

    The numbers of the message become the patient's, where nobody has them. Raises IllegalTransition
    when it does not wait any more, or its text is gone.
    """
    with records.change(by=by, reason=REASON):
        door = _door(message.site)
        _unsettled(message, wanted="taken again")
        if not message.text:
            raise IllegalTransition("The message", present="without its text", wanted="taken again")
        today = timezone.localtime(now, ZoneInfo(message.site.time_zone)).date()
        content = message.text.encode(message.encoding)
        _act(message, content, Taking(door, by, now, today, chosen=patient))
        if message.fate not in UNSETTLED:
            message.settled_at, message.settled_by = now, by
            message.save(update_fields=["settled_at", "settled_by"])
    return message


def set_aside(*, message: HospitalMessage, note: str, by: Person, now: datetime) -> HospitalMessage:
    """Settle a message by a person's decision that nothing of it counts.

    Raises BadInput without a reason, IllegalTransition when it does not wait any more.
    """
    if not note.strip():
        raise BadInput({"note": "Say why nothing of this message is to be taken over."})
    with records.change(by=by, reason=note):
        _door(message.site)
        _unsettled(message, wanted="set aside")
        message.fate = HospitalFate.SET_ASIDE
        message.settled_at, message.settled_by = now, by
        message.settled_note = note.strip()[:300]
        message.save()
    return message


def tell_fate(*, message_id: int, fate: str, because: str, now: datetime) -> None:
    """Note what became of a message later: its slot found a place, or lost it again."""
    rows = HospitalMessage.objects.filter(pk=message_id).exclude(fate=HospitalFate.SET_ASIDE)
    if fate in UNSETTLED:
        rows.update(settled_at=None, settled_by=None)
    else:
        rows.filter(fate__in=UNSETTLED).update(settled_at=now)
    rows.update(fate=fate, because=because[:400])


def forget_old(*, now: datetime) -> Forgotten:
    """Let go of settled texts after the days of their site, and of notes about nobody of ours.

    The days begin when a message was settled, which for most was when it came; what nobody has settled
    keeps its text, also where it could not be used. The row of a message stays without its text, so that it is known again when it is sent again.
    """
    gone = 0
    held = set(holds.held_patients(now.date()).values_list("patient_id", flat=True))
    for door in HospitalDoor.objects.select_related("site"):
        here = HospitalMessage.objects.filter(site=door.site).exclude(fate__in=UNSETTLED)
        settled = here.alias(since=Coalesce("settled_at", "received_at")).filter(
            since__lt=now - timedelta(days=door.keep_days)
        )
        kept = settled.exclude(patient__in=held) if held else settled
        with transaction.atomic():
            forgotten = kept.exclude(text="").update(text="", text_gone_at=now)
            retention.prove(
                kind=RetentionKind.HOSPITAL,
                number=forgotten,
                words=f"settled more than {door.keep_days} days before, as the site's door is set",
                site=door.site,
                now=now,
            )
        gone += forgotten
        jobs.beat()
    notes = HospitalMessage.objects.filter(
        fate=HospitalFate.NOT_OURS, received_at__lt=now - timedelta(days=NOT_OURS_DAYS)
    )
    return Forgotten(gone, notes.delete()[0])


def forget_like(
    *, patients: Sequence[Patient], numbers: Sequence[str], names: Sequence[str], now: datetime
) -> int:
    """Forget every message that was about one of these patients or names one; return how many.

    `names` are family and given name as a message has them, with its usual separator between. What
    still waits is settled with it. To be called while the names are still known.
    """
    rows = selector.naming(patients=patients, numbers=numbers, names=names)
    rows.filter(fate__in=UNSETTLED).update(
        fate=HospitalFate.SET_ASIDE, settled_at=now, settled_note=GONE
    )
    HospitalRecord.objects.filter(patient__in=patients).delete()
    return rows.update(text="", because=GONE, control_id="", about="", text_gone_at=now)


def _door(site: Site) -> HospitalDoor:
    """Return the site's door and hold it: messages of a site are taken one after the other."""
    door = HospitalDoor.objects.select_for_update().filter(site=site, is_open=True).first()
    if door is None:
        raise BadInput(
            f"{site} takes nothing from a hospital's system; open the door for it under Setup, Hospital's system."
        )
    return door


def _unsettled(message: HospitalMessage, *, wanted: str) -> None:
    message.refresh_from_db()
    if message.fate not in UNSETTLED:
        present = message.get_fate_display().lower()
        raise IllegalTransition("The message", present=present, wanted=wanted)


def _act(message: HospitalMessage, content: bytes, taking: Taking) -> None:
    """Read a message, act on it, and write down what became of it; a fault undoes what it did."""
    message.answer = HospitalAnswer.ACCEPTED
    head = hl7_answers.asked_by(content)
    message.event, message.control_id = head.event[:10], head.control_id[:120]
    try:
        message.text, message.encoding = _text(content, taking.door)
        said = _read(message, content, taking.door)
        message.event, message.control_id = said.event, said.control_id
        message.said_at = said.moment
        if message.pk is None:
            message.save()
        with transaction.atomic():
            outcome = _outcome(message, said, taking)
    except hl7_text.Unusable as fault:
        message.answer = HospitalAnswer(fault.answer)
        outcome = Outcome(HospitalFate.REFUSED, str(fault))
    except OperationalError:
        raise
    except HoldfastError as fault:
        outcome = Outcome(HospitalFate.WAITING, str(fault))
    except Exception as fault:
        LOG.exception("a message of the hospital's system could not be used")
        message.answer = HospitalAnswer.ERROR
        outcome = Outcome(HospitalFate.REFUSED, jobs.words_for(fault))
    _write_down(message, outcome)


def _write_down(message: HospitalMessage, outcome: Outcome) -> None:
    message.fate, message.because = outcome.fate, outcome.because[:400]
    message.patient, message.about = outcome.patient, " ".join(outcome.about)
    if message.fate == HospitalFate.NOT_OURS:
        message.text = ""
    message.save()


def _text(content: bytes, door: HospitalDoor) -> tuple[str, str]:
    """Return the text of a message; of one that cannot be decoded, with the letters of its bytes.

    Raises Unusable for what is too long to be a message.
    """
    if len(content) > LONGEST:
        raise hl7_text.Unusable(f"The message is longer than {LONGEST:,} bytes.")
    if not content:
        raise hl7_text.Unusable("The message is empty.")
    return content.decode("latin-1").replace("\x00", ""), "latin-1"


def _read(message: HospitalMessage, content: bytes, door: HospitalDoor) -> hl7_said.Said:
    message.text, message.encoding = hl7_text.decode(content, door.character_set)
    segments = hl7_text.Segments(message.text, message.encoding)
    said = hl7_said.read(segments, ZoneInfo(door.site.time_zone))
    if door.facility and said.facility != door.facility:
        raise hl7_text.Unusable("MSH-4 names another facility than this door is for.", "AR")
    return said


def _outcome(message: HospitalMessage, said: hl7_said.Said, taking: Taking) -> Outcome:
    if said.kind == "merge":
        return hospital_people.take_merge(said=said, taking=taking)
    if said.kind == "person":
        return hospital_people.take_person(said=said, taking=taking)
    whose = hospital_people.find(said=said, taking=taking)
    if isinstance(whose, Outcome):
        return whose
    heard: list[tuple[Any, Any]] = notices.hospital_slot_said.send(
        sender=HospitalMessage,
        patient=whose,
        site=taking.site,
        slot=said.slot,
        clock=said.clock,
        message_id=message.pk,
        by=taking.by,
        now=taking.now,
        today=taking.today,
    )
    for _, (fate, because) in heard:
        return Outcome(fate, because, whose)
    raise Waits("Nobody here keeps appointments.")
