"""Messages to test with: one that waits, what becomes of it, and the provider that takes it."""

from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

from followup.models import Message, MessagePolicy, Review
from followup.services import delivery, messages
from registry.services import patients
from registry.services.enrolment import ConsentGiven
from tests import builders
from tests.builders import NOW, TODAY, booked
from tests.provider import Provider

# Booked for Tuesday 1 December; London keeps UTC in winter.
NIGHT = datetime(2026, 11, 25, 22, 0, tzinfo=UTC)
MORNING = datetime(2026, 11, 26, 8, 0, tzinfo=UTC)


def followed(site: str = "north", **identity: Any) -> Review:
    """Return the six-month review of a new patient with an e-mail address."""
    person = {"email": "ada@example.invalid", **identity}
    whose = builders.patient(builders.site(site), **person)
    review: Review = builders.procedure(of=builders.injury(of=whose)).reviews.get(step__code="6m")
    return review


def waiting(site: str = "north", **identity: Any) -> Message:
    """Book a slot, which puts a message about it into the outbox."""
    booked(followed(site, **identity))
    found: Message = Message.objects.latest("id")
    return found


def reminder(site: str = "north", *, key: str = "", **identity: Any) -> Message:
    """Put a reminder of a review that is not booked into the outbox."""
    review = followed(site, **identity)
    return put(review, key=key)


def put(review: Review, *, key: str = "", purpose: str = "reminder") -> Message:
    """Put a message about a review into the outbox."""
    return messages.put(
        patient=review.procedure.injury.patient,
        site=review.site,
        purpose=purpose,
        key=key or f"{purpose}:{review.pk}:{Message.objects.count()}",
        review=review,
        now=NOW,
    )


def policy(site: str = "north", **values: Any) -> MessagePolicy:
    """Set a site's rules for messages; by default it sends by every means, at any hour."""
    by_all = {f"sends_{means}": True for means in ("email", "text", "letter")}
    ends = ("from", "until")
    at_any_hour = {
        f"{means}_quiet_{end}": "00:00" for means in ("email", "text", "letter") for end in ends
    }
    return MessagePolicy.objects.update_or_create(
        site=builders.site(site), defaults={**by_all, **at_any_hour, **values}
    )[0]


def run(now: datetime = NOW, **more: Any) -> dict[str, int]:
    """Let a worker run once, without chance."""
    return delivery.deliver_waiting(now=now, chance=lambda: 1.0, **more)


def after(message: Message, now: datetime = NOW) -> Message:
    """Return a message as it is after a worker ran once."""
    run(now)
    message.refresh_from_db()
    return message


def steps(message: Message) -> list[str]:
    """Return the kinds of a message's steps, in order."""
    return list(message.steps.values_list("kind", flat=True))


def by_http(provider: Provider, *, look_up: bool = False, seconds: float = 60) -> Mapping[str, Any]:
    """Return the settings of carriers that give every text message to a provider."""
    text = {
        "by": "http",
        "folder": "",
        "url": provider.url,
        "method": "POST",
        "header": "Authorization",
        "secret": "Bearer not-a-secret",
        "look_up_url": provider.look_up_url if look_up else "",
        "timeout_seconds": seconds,
    }
    mail = {"by": "mail", "folder": ""}
    return {"email": mail, "text": text, "letter": {"by": "file", "folder": "nowhere"}}


def died(message: Message) -> None:
    """Let the patient of a message die."""
    patients.change_status(
        patient=message.patient,
        status="died",
        on=TODAY,
        note="",
        expected_version=message.patient.version,
        by=message.patient.recorded_by,
        now=NOW,
        today=TODAY,
    )


def decided(message: Message, decision: str, on: date) -> None:
    """Let the patient of a message decide about being contacted."""
    patients.add_consent(
        patient=message.patient,
        site=message.site,
        given=ConsentGiven("contact", decision, on, "on the phone"),
        by=message.patient.recorded_by,
        now=NOW,
        today=TODAY,
    )
