"""What a message says, and whether it still has something to say: asked when it goes, not before."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Protocol
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.utils import dateformat, timezone, translation

from followup.models.messages import (
    Message,
    MessagePolicy,
    MessagePurpose,
    MessageState,
    MessageTemplate,
    TemplateLength,
)
from followup.models.reviews import Appointment, AppointmentState, Review, ReviewState
from followup.rules import message_texts
from followup.selectors import invitations
from followup.selectors.hospital_slots import hospital_tells
from followup.selectors.messages import template_for
from followup.services import links
from registry.models.sites import Site

DATE_PATTERNS = {"de": "j. F Y"}
# What a preview shows where there is no slot, and instead of a link, which is made for one message.
EXAMPLE_SLOT, EXAMPLE_AT, EXAMPLE_WEEKS = date(2026, 12, 1), "09:00", timedelta(weeks=2)
EXAMPLE_LINK = "https://follow.example/q/fGh3kQ7pTz2nWx9cVb5mLr"
NO_PHONE = {"en": "the clinic", "de": "die Klinik"}


class Contents(Protocol):
    """What one purpose adds: why a message has nothing to tell any more, and its own placeholders."""

    def outdated(self, message: Message, *, now: datetime) -> str:
        """Say why it must not go any more; '' where it may."""
        ...

    def values(self, message: Message, language: str, *, now: datetime) -> Mapping[str, str]:
        """Return the values of the purpose's own placeholders.

        Asked once, in the transaction in which the message is about to be handed over, so that what
        is made for it (a link) is saved exactly when it goes.
        """
        ...


@dataclass(frozen=True)
class Draft:
    """The words of a message as it goes, and the template that they came from."""

    template: MessageTemplate
    subject: str
    text: str


class NoWords(Exception):
    """There is no template, or no value for one of its placeholders; the text says which."""


class OfSlot:
    """A slot that was booked or cancelled."""

    def outdated(self, message: Message, *, now: datetime) -> str:
        """Nobody is told of a day that is over, or of what is no longer so."""
        slot = message.appointment
        if slot is None or slot.voided_at is not None:
            return "the slot is void"
        if slot.on < local_day(message.site, now=now):
            return "the day of the slot is over"
        if hospital_tells(slot):
            return "the hospital tells of this slot itself"
        if message.purpose == MessagePurpose.APPOINTMENT_BOOKED:
            kept = slot.state == AppointmentState.BOOKED
            return "" if kept else f"the slot is {slot.get_state_display().lower()}"
        return "" if was_told(slot) else "the patient was never told of the slot"

    def values(self, message: Message, language: str, *, now: datetime) -> Mapping[str, str]:
        """Return day, time and clinic."""
        return slot_values(message.appointment, language) if message.appointment else {}


class OfReview:
    """A review that is in its window and has no slot: please ring."""

    waiting: tuple[ReviewState, ...] = (ReviewState.PLANNED, ReviewState.MISSED)

    def outdated(self, message: Message, *, now: datetime) -> str:
        """Nobody is reminded of what is booked, done, or can no longer be done."""
        review = message.review
        if review is None:
            return ""
        if review.voided_at is not None:
            return "the review is void"
        if review.state not in self.waiting:
            return f"the review is {review.get_state_display().lower()}"
        if review.closes_on < local_day(message.site, now=now):
            return "the window of the review is closed"
        return ""

    def values(self, message: Message, language: str, *, now: datetime) -> Mapping[str, str]:
        """Return the ends of the window."""
        return window_values(message.review, language) if message.review else {}


class OfQuestionnaire(OfReview):
    """A questionnaire about a review, which a booked patient answers too."""

    waiting: tuple[ReviewState, ...] = (*OfReview.waiting, ReviewState.BOOKED)

    def outdated(self, message: Message, *, now: datetime) -> str:
        """Nobody is asked what was answered, withdrawn or is over."""
        if message.invitation is None:
            return "nobody is invited"
        closed = invitations.closed_because(message.invitation, now)
        return closed or super().outdated(message, now=now)

    def values(self, message: Message, language: str, *, now: datetime) -> Mapping[str, str]:
        """Return a link of its own, made now."""
        if message.invitation is None:
            return {}
        return {"link": links.issue_link(invitation=message.invitation, now=now)}


CONTENTS: Mapping[str, Contents] = {
    MessagePurpose.APPOINTMENT_BOOKED: OfSlot(),
    MessagePurpose.APPOINTMENT_CANCELLED: OfSlot(),
    MessagePurpose.REMINDER: OfReview(),
    MessagePurpose.QUESTIONNAIRE: OfQuestionnaire(),
}


def outdated(message: Message, *, now: datetime) -> str:
    """Say why a message has nothing to tell any more; '' where it has."""
    return CONTENTS[message.purpose].outdated(message, now=now)


def draft(
    message: Message, policy: MessagePolicy, means: str, language: str, *, now: datetime
) -> Draft:
    """Write a message for a means, in the first language for which there are words.

    Raises NoWords where there is no template, or a placeholder has no value.
    """
    length = TemplateLength.SHORT if means == "text" else TemplateLength.LONG
    order = message_texts.languages(language, policy.language)
    template = template_for(message.site_id, message.purpose, length, order)
    if template is None:
        raise NoWords(f"there is no template: {message.get_purpose_display()}, {length.label}")
    values = {
        **shared_values(message.site, template.language),
        **CONTENTS[message.purpose].values(message, template.language, now=now),
    }
    return fill(template, values)


def fill(template: MessageTemplate, values: Mapping[str, str]) -> Draft:
    """Put values into a template.

    Raises NoWords for a placeholder without a value.
    """
    try:
        subject = message_texts.fill(template.subject, values)
        return Draft(template, subject, message_texts.fill(template.body, values))
    except KeyError as fault:
        raise NoWords(f"nothing is known for {{{fault.args[0]}}} of its template") from fault


def shared_values(site: Site, language: str) -> dict[str, str]:
    """Return what every message may say."""
    return {"site": site.name, "phone": site.telephone or NO_PHONE.get(language, NO_PHONE["en"])}


def slot_values(slot: Appointment, language: str) -> dict[str, str]:
    """Return what a message about a slot may say."""
    return {
        "date": _day(slot.on, language),
        "weekday": _weekday(slot.on, language),
        "time": f"{slot.at:%H:%M}",
        "clinic": slot.clinic.name,
    }


def window_values(review: Review, language: str) -> dict[str, str]:
    """Return what a message about a review may say."""
    return {
        "window_from": _day(review.opens_on, language),
        "window_to": _day(review.closes_on, language),
    }


def was_told(slot: Appointment) -> bool:
    """Say whether the patient has, or may have, a message that the slot was booked."""
    went = Q(state__in=[MessageState.SENT, MessageState.UNKNOWN])
    on_its_way = Q(state=MessageState.SENDING, handed_at__isnull=False)
    told = Message.objects.filter(
        went | on_its_way, appointment=slot, purpose=MessagePurpose.APPOINTMENT_BOOKED
    )
    return told.exists()


def local_day(site: Site, *, now: datetime) -> date:
    """Return the day of a moment by the site's clock."""
    return timezone.localtime(now, ZoneInfo(site.time_zone)).date()


def _weekday(day: date, language: str) -> str:
    with translation.override(language):
        return dateformat.format(day, "l")


def _day(day: date, language: str) -> str:
    with translation.override(language):
        return dateformat.format(day, DATE_PATTERNS.get(language.split("-")[0], "j F Y"))


def preview(template: MessageTemplate, site: Site, review: Review | None) -> Draft:
    """Fill words for a real review, or for an invented one, without making anything for it.

    Raises NoWords for a placeholder that is not known.
    """
    language = template.language
    slot = (
        review.appointments.select_related("clinic").filter(state=AppointmentState.BOOKED).first()
        if review is not None
        else None
    )
    values = {
        **_example(language),
        **shared_values(site, language),
        **(window_values(review, language) if review is not None else {}),
        **(slot_values(slot, language) if slot is not None else {}),
    }
    return fill(template, values)


def _example(language: str) -> dict[str, str]:
    day = EXAMPLE_SLOT
    return {
        "date": _day(day, language),
        "weekday": _weekday(day, language),
        "time": EXAMPLE_AT,
        "clinic": "Clinic",
        "window_from": _day(day - EXAMPLE_WEEKS, language),
        "window_to": _day(day + EXAMPLE_WEEKS, language),
        "link": EXAMPLE_LINK,
    }
