"""What would become of several reviews at once: shown before anything is done."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Max, QuerySet

from followup.models.calendars import Clinic, ClosedDay
from followup.models.messages import Message, MessagePurpose, MessageState
from followup.models.reviews import Appointment, AppointmentState, Review
from followup.rules import clinic_list, review_reminders
from followup.rules.windows import Window
from followup.selectors import contacts
from followup.selectors.due import WAITING, in_order, with_details
from followup.selectors.messages import policy_of, rules_of
from followup.selectors.slots import times_of
from followup.selectors.visible import visible
from registry.selectors.visible import Viewer

GONE = (MessageState.STOPPED, MessageState.FAILED)


@dataclass(frozen=True)
class Planned:
    """What would become of one review: `what` happens, or `why_not`; `value` is what is sent back."""

    review: Review
    name: str
    what: str
    why_not: str
    value: str


def ticked(user: Viewer, action: str, keys: Collection[int], today: date) -> list[Any]:
    """Return the ticked reviews that a person may act on, in order of urgency, however they stand."""
    rows = visible(user, Review, action).filter(
        pk__in=keys, procedure__injury__patient__identity__isnull=False
    )
    return list(with_details(in_order(rows, today)))


def clinic_day(
    reviews: Sequence[Any], clinic: Clinic, day: date, today: date
) -> tuple[list[Planned], str]:
    """Return who of the ticked would get which time of a clinic day; and why nobody could, or ''."""
    refusal = _no_clinic(clinic, day, today)
    taken = set(
        Appointment.objects.filter(
            clinic=clinic, on=day, state=AppointmentState.BOOKED
        ).values_list("at", flat=True)
    )
    free = [] if refusal else [at for at in times_of(clinic) if at not in taken]
    asked = [
        clinic_list.Asked(
            one.pk, _window(one), one.state, one.site_id == clinic.site_id, _booked_on(one)
        )
        for one in reviews
    ]
    seats, left = clinic_list.fill(asked, free, day)
    times = {seat.key: seat.at for seat in seats}
    reasons = {one.key: one.why for one in left}
    rows = [
        _planned(
            one,
            f"{day:%a %d %b %Y} at {times[one.pk]:%H:%M}" if one.pk in times else "",
            refusal or reasons.get(one.pk, ""),
            f":{times[one.pk]:%H:%M}" if one.pk in times else "",
        )
        for one in reviews
    ]
    return rows, refusal


def reminders_of(reviews: Sequence[Any], today: date) -> list[Planned]:
    """Return who of the ticked would be reminded and by what, and who not and why."""
    rules = contacts.policies({one.site_id for one in reviews})
    known, _ = contacts.for_reviews(reviews, today)
    last = last_reminders(one.pk for one in reviews)
    sites = {one.site_id: one.site for one in reviews}
    offered = {key: rules_of(policy_of(site)).means for key, site in sites.items()}
    rows = []
    for one in reviews:
        facts = review_reminders.Facts(
            state=one.state,
            window=_window(one),
            reach=known[one.pk].of_review(one.pk),
            offered=offered[one.site_id],
            booked_on=_booked_on(one),
            last_on=last.get(one.pk),
        )
        found = review_reminders.reminder_for(facts, rules[one.site_id].reminder_days, today)
        what = f"by {review_reminders.WORDS[found.means]}" if found.means else ""
        rows.append(_planned(one, what, found.why_not))
    return rows


def endings_of(reviews: Sequence[Any]) -> list[Planned]:
    """Return which of the ticked would be marked as not needed, and which are over already."""
    return [
        _planned(one, "is marked as not needed", "")
        if one.state in WAITING
        else _planned(one, "", f"the review is {one.get_state_display().lower()} already")
        for one in reviews
    ]


def last_reminders(keys: Any) -> dict[int, date]:
    """Return the day on which each review was last reminded of, or is going to be."""
    rows = (
        Message.objects.filter(review__in=list(keys), purpose=MessagePurpose.REMINDER)
        .exclude(state__in=GONE)
        .order_by()
        .values_list("review_id")
        .annotate(last=Max("wanted_at"))
    )
    return {key: last.date() for key, last in rows}


def clinics_for(user: Viewer) -> "QuerySet[Any]":
    """Return the clinics into which a person may book."""
    rows: QuerySet[Any] = visible(user, Clinic, "book").filter(is_active=True)
    return rows.select_related("site")


def _no_clinic(clinic: Clinic, day: date, today: date) -> str:
    if day < today:
        return f"{day:%d %b %Y} is over."
    if day.weekday() != clinic.weekday:
        return f"{clinic} is not held on a {day:%A}; choose another day."
    if ClosedDay.objects.filter(site=clinic.site_id, on=day).exists():
        return f"{clinic.site} is closed on {day:%d %b %Y}; choose another day."
    return ""


def _planned(review: Any, what: str, why_not: str, more: str = "") -> Planned:
    name = str(review.procedure.injury.patient.identity)
    value = f"{review.pk}:{review.version}{more}" if not why_not else ""
    return Planned(review, name, what, why_not, value)


def _window(review: Review) -> Window:
    return Window(review.opens_on, review.due_on, review.closes_on)


def _booked_on(review: Any) -> date | None:
    slots = [one for one in review.appointments.all() if one.state == AppointmentState.BOOKED]
    return slots[0].on if slots else None
