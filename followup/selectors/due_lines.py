"""One line of the Due list: who, what, why it stands there, and what is to be done next."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta
from typing import Any

from followup.models.reviews import Appointment, AppointmentState, Review
from followup.rules.contact import NextTry, Verdict
from followup.rules.urgency import DueFacts, Tier, reason
from followup.rules.windows import Timing, Window, timing
from followup.selectors import contacts
from followup.selectors.contacts import Contacts


@dataclass(frozen=True)
class DueRow:
    """One line of the list, with its reason in words."""

    review: Review
    name: str
    reason: str
    act_now: bool
    timing: Timing
    slot: str
    slot_has_come: bool
    contacts: Contacts
    next_try: NextTry

    @property
    def attempts(self) -> int:
        """How often somebody tried to reach the patient about this review."""
        return sum(one.review_id == self.review.pk for one in self.contacts.attempts)

    @property
    def ticked_as(self) -> str:
        """What a form sends when this line is ticked: the review, and the version that was seen."""
        return f"{self.review.pk}:{self.review.version}"

    @property
    def to_call(self) -> bool:
        """Whether somebody is to be rung, written to or asked after today."""
        due = self.next_try.from_on
        return not self.slot and self.next_try.verdict is Verdict.TRY and due is not None


def lines(reviews: Sequence[Review], today: date) -> list[DueRow]:
    """Return the lines of one page, in a fixed number of queries."""
    known, proposals = contacts.for_reviews(reviews, today)
    return [_line(one, known[one.pk], proposals[one.pk], today) for one in reviews]


def reason_of(review: Any, today: date, *, is_booked: bool) -> str:
    """Say in words why a review stands where it does."""
    kind = review.procedure.construct.construct_type if _has_construct(review) else None
    removal_due = (
        review.procedure.performed_on + timedelta(weeks=kind.removal_due_weeks)
        if kind is not None and kind.removal_due_weeks
        else None
    )
    return reason(
        DueFacts(
            tier=Tier(review.tier),
            today=today,
            due_on=review.due_on,
            closes_on=review.closes_on,
            removal_due_on=removal_due,
            is_booked=is_booked,
        )
    )


def slot_in_words(on: date, at: time, clinic: object) -> str:
    """Write a booked slot as the list says it."""
    return f"{on:%a %d %b} {at:%H:%M}, {clinic}"


def _line(review: Any, known: Contacts, next_try: NextTry, today: date) -> DueRow:
    slot = _booked(review)
    return DueRow(
        review=review,
        name=str(review.procedure.injury.patient.identity),
        reason=reason_of(review, today, is_booked=slot is not None),
        act_now=review.tier <= Tier.EARLY_AFTER_DEPARTURE,
        timing=timing(Window(review.opens_on, review.due_on, review.closes_on), today),
        slot=slot_in_words(slot.on, slot.at, slot.clinic) if slot is not None else "",
        slot_has_come=slot is not None and slot.on <= today,
        contacts=known,
        next_try=next_try,
    )


def _booked(review: Any) -> Appointment | None:
    slots = review.appointments.all()
    return next((one for one in slots if one.state == AppointmentState.BOOKED), None)


def _has_construct(review: Any) -> bool:
    return hasattr(review.procedure, "construct")
