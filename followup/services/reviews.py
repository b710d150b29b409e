"""Booking, missing, ending and lapsing of reviews; one function for each act."""

from collections.abc import Collection
from contextlib import suppress
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef
from django.utils import timezone

from followup.models.calendars import Clinic
from followup.models.messages import MessagePurpose
from followup.models.reviews import Appointment, AppointmentState, EndedBecause, Review, ReviewState
from followup.notices import review_closed
from followup.rules import states
from followup.selectors import slots
from followup.services import completion, messages, planning
from registry.errors import BadInput, StaleVersion
from registry.models.people import Person
from registry.selectors.chunks import in_chunks
from registry.services import gathering, jobs, records

# Few enough that nothing is found meanwhile of what was looked for: common practice, no source.
LOOKED_AT_TOGETHER = 100


def book(
    *,
    review: Review,
    clinic: Clinic,
    on: date,
    at: time,
    expected_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> Appointment:
    """Book a slot; an earlier slot of the review is cancelled, and the patient is told.

    Raises BadInput for a day in the past, a day without this clinic, a time that is none of its
    slots or is taken, or another site's clinic, IllegalTransition, StaleVersion.
    """
    _clinic_possible(review, clinic)
    _slot_possible(clinic, on, at, today)
    with records.change(by=by):
        # First of all, so that the review in hand is as it was when the slot is refused.
        if Appointment.objects.filter(
            clinic=clinic, on=on, at=at, state=AppointmentState.BOOKED
        ).exists():
            raise BadInput({"at": f"{at:%H:%M} is taken at {clinic} on {on}; choose another time."})
        records.save(
            review,
            {"state": states.book(review.state)},
            by=by,
            now=now,
            expected_version=expected_version,
        )
        planning.cancel_slots(review=review, by=by, now=now)
        slot = _create_slot(review, clinic, on, at, by, now)
        messages.announce(appointment=slot, purpose=MessagePurpose.APPOINTMENT_BOOKED, now=now)
    return slot


def book_told(
    *,
    review: Review,
    clinic: Clinic,
    on: date,
    at: time,
    announces: bool = True,
    by: Person,
    now: datetime,
    today: date,
) -> Appointment:
    """Book a slot that exists already, because the hospital's system keeps it; it may be any time.

    With `announces`, a patient is told of a day that is still to come. Raises BadInput for another site's clinic or a
    time that somebody else has there, IllegalTransition, StaleVersion.
    """
    _clinic_possible(review, clinic)
    with records.change(by=by):
        taken = Appointment.objects.filter(
            clinic=clinic, on=on, at=at, state=AppointmentState.BOOKED
        )
        if taken.exclude(review=review).exists():
            raise BadInput(f"{at:%H:%M} is taken at {clinic} on {on} by somebody else here.")
        records.save(
            review,
            {"state": states.book(review.state)},
            by=by,
            now=now,
            expected_version=review.version,
        )
        planning.cancel_slots(review=review, by=by, now=now)
        slot = _create_slot(review, clinic, on, at, by, now)
        if announces and on >= today:
            messages.announce(appointment=slot, purpose=MessagePurpose.APPOINTMENT_BOOKED, now=now)
    return slot


def _create_slot(
    review: Review, clinic: Clinic, on: date, at: time, by: Person, now: datetime
) -> Appointment:
    slot = Appointment(
        review=review,
        site=review.site,
        clinic=clinic,
        surgeon=clinic.surgeon,
        on=on,
        at=at,
        film_first=bool(review.step.film_views),
    )
    return records.create(slot, by=by, now=now)


def cancel(*, review: Review, expected_version: int, by: Person, now: datetime) -> Review:
    """Cancel the booked slot; the review is planned again.

    Raises IllegalTransition, StaleVersion.
    """
    with records.change(by=by):
        planning.cancel_slots(review=review, by=by, now=now)
        return records.save(
            review,
            {"state": states.unbook(review.state)},
            by=by,
            now=now,
            expected_version=expected_version,
        )


def miss(*, review: Review, expected_version: int, by: Person, now: datetime) -> Review:
    """Record that a booked patient did not come; the review stays on the Due list.

    Raises BadInput before the day of the slot, IllegalTransition, StaleVersion.
    """
    today = timezone.localtime(now, ZoneInfo(review.site.time_zone)).date()
    with records.change(by=by):
        for slot in review.appointments.filter(state=AppointmentState.BOOKED):
            if slot.on > today:
                raise BadInput(f"The slot is on {slot.on}; nobody can have missed it yet.")
            records.save(
                slot,
                {"state": AppointmentState.MISSED},
                by=by,
                now=now,
                expected_version=slot.version,
            )
            messages.stop(appointment=slot, because="the slot was missed")
        return records.save(
            review,
            {"state": states.miss(review.state), "missed_count": review.missed_count + 1},
            by=by,
            now=now,
            expected_version=expected_version,
        )


def mark_not_needed(
    *, review: Review, reason: str, expected_version: int, by: Person, now: datetime
) -> Review:
    """End a review by decision, with the reason.

    Raises BadInput without a reason, IllegalTransition, StaleVersion.
    """
    if not reason.strip():
        raise BadInput({"reason": "Say why this review is not needed."})
    with records.change(by=by, reason=reason):
        planning.cancel_slots(review=review, by=by, now=now)
        records.save(
            review,
            {
                "state": states.end(review.state),
                "ended_because": EndedBecause.CHOSEN,
                "ended_reason": reason.strip()[:300],
            },
            by=by,
            now=now,
            expected_version=expected_version,
            reason=reason,
        )
        review_closed.send(sender=Review, review=review, by=by, now=now)
    return review


def lapse_closed(
    *, by: Person, now: datetime, today: date, injuries: Collection[int] | None = None
) -> int:
    """Let every open review lapse whose window closed with nothing collected; return how many.

    A review whose window holds findings is attended instead: data decide, not clicks. One with a
    slot still to come, booked outside its window, waits for it. `injuries` are the keys of the
    injuries whose reviews are looked at; all when left out.
    """
    lapsed = 0
    to_come = Appointment.objects.filter(
        review=OuterRef("pk"), state=AppointmentState.BOOKED, on__gte=today
    )
    rows = Review.objects.filter(
        ~Exists(to_come),
        state__in=[ReviewState.PLANNED, ReviewState.BOOKED, ReviewState.MISSED],
        closes_on__lt=today,
    ).select_related("step", "site", "procedure__injury")
    if injuries is not None:
        rows = rows.filter(procedure__injury__in=injuries)
    for chunk in in_chunks(rows, LOOKED_AT_TOGETHER):
        gathering.hold(chunk)
        found = completion.first_findings(chunk)
        booked = set(
            Appointment.objects.filter(review__in=chunk, state=AppointmentState.BOOKED).values_list(
                "review_id", flat=True
            )
        )
        for review in chunk:
            # What somebody changes at this very moment is looked at again the next night.
            with suppress(StaleVersion):
                if (day := found[review.pk]) is not None:
                    completion.attend(
                        review=review, on=day, expected_version=review.version, by=by, now=now
                    )
                else:
                    _lapse(review, has_slot=review.pk in booked, by=by, now=now)
                    lapsed += 1
        jobs.beat(len(chunk))
    return lapsed


def _lapse(review: Review, *, has_slot: bool, by: Person, now: datetime) -> None:
    with records.change(by=by, reason="the window closed"):
        if has_slot:
            planning.cancel_slots(review=review, by=by, now=now)
        records.save(
            review,
            {"state": states.lapse(review.state)},
            by=by,
            now=now,
            expected_version=review.version,
        )


def _clinic_possible(review: Review, clinic: Clinic) -> None:
    if clinic.site_id != review.site_id:
        raise BadInput({"clinic": f"{clinic} is not a clinic of {review.site}."})
    if not clinic.is_active:
        raise BadInput({"clinic": f"{clinic} is no longer held; choose another."})


def _slot_possible(clinic: Clinic, on: date, at: time, today: date) -> None:
    if on < today:
        raise BadInput({"on": f"{on} is in the past."})
    if on.weekday() != clinic.weekday:
        raise BadInput({"on": f"{clinic} is not held on a {on:%A}; choose another day."})
    if clinic.site.closed_days.filter(on=on).exists():
        raise BadInput({"on": f"The site is closed on {on}; choose another day."})
    if at not in slots.times_of(clinic):
        raise BadInput({"at": f"{clinic} has no slot at {at:%H:%M}; choose another time."})
