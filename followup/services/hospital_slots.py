"""Slots that the hospital's system keeps: each review follows the newest word on its slot."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.db.models import Q

from followup.models.calendars import Clinic
from followup.models.hospital_slots import HospitalSlot, SlotAct
from followup.models.reviews import Appointment, AppointmentState, Review, ReviewState
from followup.selectors.hospital_slots import hospital_tells_at
from followup.services import reviews
from registry.errors import HoldfastError
from registry.models.hospital_messages import HospitalFate
from registry.models.patients import Patient
from registry.models.people import Person
from registry.models.sites import Site
from registry.rules.hl7_said import SlotSaid
from registry.services import hospital_messages, records

OPEN = (ReviewState.PLANNED, ReviewState.BOOKED, ReviewState.MISSED)
DAY_OVER = "The day is over"
STANDS = "What became of it here stands"


@dataclass(frozen=True)
class When:
    """On whose behalf and when something is taken over."""

    by: Person
    now: datetime
    today: date


@dataclass(frozen=True)
class Placed:
    """What became of one slot: whether anything changed, why it waits, or why nothing is to be done."""

    changed: bool = False
    waits: str = ""
    stays: str = ""


def take_slot(
    *, patient: Patient, site: Site, slot: SlotSaid, clock: str, message_id: int, when: When
) -> tuple[str, str]:
    """Note the newest word on a slot and let the patient's reviews follow; return a fate and why.

    A slot takes the open review whose window holds its day; none is made for it. The same words twice,
    or in another order, end the same.
    """
    clinic = _clinic(site, slot.places)
    row = _known(site, slot)
    # A message that is taken again is the newest word still, if it was before.
    newest = row is None or row.clock <= clock
    with records.change(by=when.by):
        if row is None:
            row = HospitalSlot(site=site, patient=patient, clock=clock, first_clock=clock)
        before = row.patient
        row.first_clock = min(row.first_clock, clock)
        row.filler, row.placer = row.filler or slot.filler, row.placer or slot.placer
        if newest:
            _say(row, slot, clinic, patient, clock, message_id)
        row.save()
        if before != row.patient:
            _settle(before, site, when)
        placed = _settle(row.patient, site, when)
    if not newest:
        return HospitalFate.OVERTAKEN, "Something newer was said of this slot"
    return _fate(row, placed[row.pk])


def forget_of_patient(*, patient: Patient) -> int:
    """Delete what was said of the slots of an erased patient; the appointments stay facts."""
    return HospitalSlot.objects.filter(patient=patient).delete()[0]


def _known(site: Site, slot: SlotSaid) -> HospitalSlot | None:
    rows = HospitalSlot.objects.filter(site=site).select_related("patient")
    by_filler = rows.filter(filler=slot.filler).first() if slot.filler else None
    if by_filler is not None or not slot.placer:
        return by_filler
    # Of one name of who asked for it there may be several slots, each with its own name of who keeps it.
    without = Q(filler="") if slot.filler else Q()
    return rows.filter(without, placer=slot.placer).first()


def _clinic(site: Site, places: Sequence[str]) -> Clinic | None:
    here = Clinic.objects.filter(site=site, is_active=True).exclude(hospital_code="")
    return here.filter(hospital_code__in=places).order_by("pk").first()


def _say(
    row: HospitalSlot,
    slot: SlotSaid,
    clinic: Clinic | None,
    patient: Patient,
    clock: str,
    message_id: int,
) -> None:
    row.patient, row.clock, row.message_id = patient, clock, message_id
    if slot.act == SlotAct.BOOKED and clinic is None:
        row.act, row.on, row.at, row.clinic = SlotAct.ELSEWHERE, None, None, None
        return
    row.act = slot.act
    if slot.starts is not None:
        row.on, row.at = slot.starts.date(), slot.starts.time()
    row.clinic = clinic or row.clinic


def _settle(patient: Patient, site: Site, when: When) -> dict[int, Placed]:
    """Give each slot its review anew, the one that was named first before the others."""
    placed, missed = _settle_once(patient, site, when)
    while missed:
        # A review whose slot was missed is free for the next one.
        again, missed = _settle_once(patient, site, when)
        placed = {
            key: replace(now, changed=now.changed or placed[key].changed)
            for key, now in again.items()
        }
    return placed


def _settle_once(patient: Patient, site: Site, when: When) -> tuple[dict[int, Placed], bool]:
    rows = list(
        HospitalSlot.objects.filter(patient=patient, site=site).select_related(
            "appointment__review", "clinic"
        )
    )
    ours = [row.appointment_id for row in rows if row.appointment_id is not None]
    claimed: set[int] = set()
    wanted: dict[int, Review | Placed] = {}
    for row in rows:
        wanted[row.pk] = found = _review_for(row, patient, ours, claimed, when.today)
        if isinstance(found, Review):
            claimed.add(found.pk)
    freed = {row.pk for row in rows if _let_go(row, wanted[row.pk], when)}
    placed = {row.pk: _place(row, wanted[row.pk], row.pk in freed, when) for row in rows}
    for row in rows:
        _tell(row, placed[row.pk], when.now)
    missed = any(placed[row.pk].changed and row.act == SlotAct.MISSED for row in rows)
    return placed, missed


def _review_for(
    row: HospitalSlot, patient: Patient, ours: Sequence[int], claimed: set[int], today: date
) -> Review | Placed:
    """Return the review that a slot is to have, or what becomes of it without one."""
    if row.act not in (SlotAct.BOOKED, SlotAct.MISSED):
        return Placed()
    if row.on is None or row.at is None or row.clinic is None:
        return Placed(waits="It says nothing of where and when the slot was.")
    if row.act == SlotAct.MISSED and row.on > today:
        return Placed(waits=f"It says that the slot on {row.on} was missed, which is to come.")
    kept = row.appointment
    if kept is not None and _is_it(kept, row):
        if kept.state != AppointmentState.BOOKED:
            return Placed(stays=STANDS)
        if row.on < today:
            # Whether the patient came is about to be recorded.
            return kept.review
    elif row.act == SlotAct.BOOKED and row.on < today:
        return Placed(stays=DAY_OVER)
    return _only_one(row, patient, ours, claimed)


def _only_one(
    row: HospitalSlot, patient: Patient, ours: Sequence[int], claimed: set[int]
) -> Review | Placed:
    inside = Review.objects.filter(
        procedure__injury__patient=patient,
        site=row.site,
        state__in=OPEN,
        opens_on__lte=row.on,
        closes_on__gte=row.on,
    ).select_related("step", "site", "procedure__injury")
    booked_here = Appointment.objects.filter(state=AppointmentState.BOOKED).exclude(pk__in=ours)
    same = booked_here.filter(on=row.on, at=row.at, clinic=row.clinic).values("review")
    others = booked_here.exclude(review__in=same).values("review")
    free = list(inside.exclude(pk__in=claimed).exclude(pk__in=others).order_by("pk"))
    alike = set(same.values_list("review", flat=True))
    had = row.appointment.review_id if row.appointment and _is_it(row.appointment, row) else None
    review: Review
    for review in free:
        # Somebody who booked the very slot here said which review is meant.
        if len(free) == 1 or review.pk == had or review.pk in alike:
            return review
    if free:
        return Placed(
            waits=f"{len(free)} reviews are open on {row.on}; book the one that is meant."
        )
    if inside.exists():
        return Placed(waits=f"The review that is open on {row.on} has another slot.")
    return Placed(waits=f"No review of the patient is open on {row.on}.")


def _let_go(row: HospitalSlot, wanted: Review | Placed, when: When) -> bool:
    """Cancel the appointment of a slot that is no longer what is said; say whether one was."""
    kept = row.appointment
    if kept is None:
        return False
    stays = wanted.stays if isinstance(wanted, Placed) else kept.review_id == wanted.pk
    if stays and _is_it(kept, row):
        return False
    if kept.state == AppointmentState.BOOKED:
        review = Review.objects.select_related("site").get(pk=kept.review_id)
        reviews.cancel(review=review, expected_version=review.version, by=when.by, now=when.now)
    row.appointment, row.made = None, False
    row.save(update_fields=["appointment", "made"])
    return kept.state == AppointmentState.BOOKED


def _is_it(kept: Appointment, row: HospitalSlot) -> bool:
    return (kept.on, kept.at, kept.clinic_id) == (row.on, row.at, row.clinic_id)


def _place(row: HospitalSlot, wanted: Review | Placed, freed: bool, when: When) -> Placed:
    """Book what a slot wants and has not yet, and note that it was missed."""
    if isinstance(wanted, Placed):
        return Placed(freed, wanted.waits, wanted.stays)
    changed = freed
    review = Review.objects.select_related("step", "site").get(pk=wanted.pk)
    if row.appointment is None:
        try:
            row.appointment, is_new = _booked(row, review, when)
        except HoldfastError as fault:
            return Placed(freed, str(fault))
        row.made = is_new
        row.save(update_fields=["appointment", "made"])
        changed = changed or is_new
    if row.act == SlotAct.MISSED and row.appointment.state == AppointmentState.BOOKED:
        review.refresh_from_db()
        reviews.miss(review=review, expected_version=review.version, by=when.by, now=when.now)
        changed = True
    return Placed(changed)


def _booked(row: HospitalSlot, review: Review, when: When) -> tuple[Appointment, bool]:
    """Return the appointment that a slot becomes: one that was booked here alike, else a new one."""
    here = Appointment.objects.filter(
        review=review, on=row.on, at=row.at, clinic=row.clinic, state=AppointmentState.BOOKED
    ).first()
    if here is not None:
        return here, False
    if row.clinic is None or row.on is None or row.at is None:
        raise ValueError("a slot without place and time cannot be booked")
    slot = reviews.book_told(
        review=review,
        clinic=row.clinic,
        on=row.on,
        at=row.at,
        announces=not hospital_tells_at(row.site),
        by=when.by,
        now=when.now,
        today=when.today,
    )
    return slot, True


def _tell(row: HospitalSlot, placed: Placed, now: datetime) -> None:
    """Let the message of a slot say how it stands, where another message moved it."""
    if row.message_id is None:
        return
    if placed.waits:
        hospital_messages.tell_fate(
            message_id=row.message_id, fate=HospitalFate.WAITING, because=placed.waits, now=now
        )
    elif placed.changed:
        hospital_messages.tell_fate(
            message_id=row.message_id, fate=HospitalFate.TAKEN, because=_done(row), now=now
        )


def _fate(row: HospitalSlot, placed: Placed) -> tuple[str, str]:
    if placed.waits:
        return HospitalFate.WAITING, placed.waits
    if placed.changed:
        return HospitalFate.TAKEN, _done(row)
    if row.act == SlotAct.ELSEWHERE:
        return HospitalFate.NOT_OURS, "No clinic of the site has the code of its place"
    return HospitalFate.NOTHING, placed.stays or "It stands so already"


def _done(row: HospitalSlot) -> str:
    day = f" on {row.on:%d %b %Y}" if row.on else ""
    words = {
        SlotAct.BOOKED: f"The slot{day} was booked",
        SlotAct.CANCELLED: "The slot was cancelled",
        SlotAct.MISSED: f"The slot{day} was noted as missed",
        SlotAct.ELSEWHERE: "The slot was cancelled: it is at a clinic that is not ours now",
    }
    return words[SlotAct(row.act)]
