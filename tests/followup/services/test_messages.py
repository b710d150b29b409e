"""The outbox: what goes, what waits, what is stopped, and that nothing goes twice."""

from datetime import UTC, date, datetime, timedelta
from typing import Any, NoReturn

import pytest
from django.core import mail

from followup.models import Message
from followup.services import messages
from registry.services import patients
from registry.services.enrolment import ConsentGiven
from tests import builders
from tests.builders import NOW, TODAY, booked

pytestmark = pytest.mark.usefixtures("defaults")

# Booked for Tuesday 1 December; London keeps UTC in winter.
NIGHT = datetime(2026, 11, 25, 22, 0, tzinfo=UTC)
MORNING = datetime(2026, 11, 26, 8, 0, tzinfo=UTC)


def waiting(site: str = "north", **identity: Any) -> Message:
    """Book a slot, which puts a message about it into the outbox."""
    person = {"email": "ada@example.invalid", **identity}
    whose = builders.patient(builders.site(site), **person)
    operation = builders.procedure(of=builders.injury(of=whose))
    booked(operation.reviews.get(step__code="6m"))
    found: Message = Message.objects.latest("id")
    return found


def after(message: Message, now: datetime = NOW) -> Message:
    messages.deliver_waiting(now=now)
    message.refresh_from_db()
    return message


def died(message: Message) -> None:
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
    patients.add_consent(
        patient=message.patient,
        site=message.site,
        given=ConsentGiven("contact", decision, on, "on the phone"),
        by=message.patient.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_a_message_says_when_and_where(mailoutbox: list[Any]) -> None:
    message = after(waiting())
    (letter,) = mailoutbox
    assert letter.to == ["ada@example.invalid"]
    assert "Tuesday 01 December 2026 at 09:00 at North Hospital" in letter.body
    assert (message.state, message.sent_at) == ("sent", NOW)


def test_a_letter_names_neither_the_patient_nor_the_complaint(mailoutbox: list[Any]) -> None:
    message = after(waiting())
    told = f"{mailoutbox[0].subject} {mailoutbox[0].body}"
    assert message.patient.key not in told
    assert message.patient.identity.family_name not in told


def test_delivering_twice_sends_once(mailoutbox: list[Any]) -> None:
    message = waiting()
    first, second = messages.deliver_waiting(now=NOW), messages.deliver_waiting(now=NOW)
    assert (first["sent"], second["sent"]) == (1, 0)
    assert messages.deliver(message_id=message.pk, now=NOW) == "waiting"
    assert len(mailoutbox) == 1


def test_the_same_announcement_is_put_in_once() -> None:
    message = waiting()
    again = messages.announce(
        appointment=message.appointment, purpose=message.purpose, now=NOW + timedelta(hours=1)
    )
    assert again == message
    assert Message.objects.count() == 1


def test_what_another_worker_is_sending_is_left_to_it(mailoutbox: list[Any]) -> None:
    message = waiting()
    Message.objects.filter(pk=message.pk).update(state="sending", claimed_at=NOW)
    messages.deliver_waiting(now=NOW + timedelta(minutes=29))
    assert Message.objects.get().state == "sending"
    assert mailoutbox == []


def test_what_a_dead_worker_left_is_handed_to_a_person_and_not_sent_again(
    mailoutbox: list[Any],
) -> None:
    message = waiting()
    Message.objects.filter(pk=message.pk).update(state="sending", claimed_at=NOW)
    counts = messages.deliver_waiting(now=NOW + timedelta(minutes=31))
    message.refresh_from_db()
    assert (counts["failed"], message.state) == (1, "failed")
    assert "please check" in message.stopped_because
    assert mailoutbox == []


def test_nothing_goes_at_night_and_it_goes_in_the_morning(mailoutbox: list[Any]) -> None:
    message = after(waiting(), NIGHT)
    assert (message.state, mailoutbox) == ("waiting", [])
    assert after(message, MORNING).state == "sent"


def test_the_night_is_that_of_the_site(mailoutbox: list[Any]) -> None:
    builders.site("far", time_zone="Asia/Tokyo")
    message = after(waiting("far"), datetime(2026, 11, 25, 12, 30, tzinfo=UTC))
    assert (message.state, mailoutbox) == ("waiting", [])


@pytest.mark.parametrize(
    ("identity", "because"),
    [
        ({"refused_means": ["email"]}, "the patient refused contact by email"),
        ({"email": ""}, "no address for email"),
    ],
)
def test_a_message_that_can_never_go_is_stopped_with_the_reason(
    identity: dict[str, Any], because: str, mailoutbox: list[Any]
) -> None:
    message = after(waiting(**identity))
    assert (message.state, message.stopped_because) == ("stopped", because)
    assert mailoutbox == []


def test_a_patient_who_opted_out_is_not_written_to(mailoutbox: list[Any]) -> None:
    message = waiting()
    decided(message, "opted_out", TODAY)
    assert after(message).state == "stopped"
    assert mailoutbox == []


def test_the_last_decision_about_contact_counts(mailoutbox: list[Any]) -> None:
    message = waiting()
    decided(message, "opted_out", date(2026, 11, 1))
    decided(message, "given", date(2026, 11, 20))
    assert after(message).state == "sent"
    assert len(mailoutbox) == 1


def test_death_stops_every_message_at_once_and_starts_none(mailoutbox: list[Any]) -> None:
    sent, waits = after(waiting()), waiting()
    died(sent)
    died(waits)
    assert list(Message.objects.order_by("id").values_list("state", flat=True)) == [
        "sent",
        "stopped",
    ]
    after(waits)
    assert len(mailoutbox) == 1


def test_a_message_left_over_from_before_a_death_never_goes(mailoutbox: list[Any]) -> None:
    message = waiting()
    died(message)
    Message.objects.filter(pk=message.pk).update(state="waiting", stopped_because="")
    assert after(message).stopped_because == "the patient's follow-up has ended (died)"
    assert mailoutbox == []


def test_nothing_is_sent_about_a_day_that_is_over(mailoutbox: list[Any]) -> None:
    message = after(waiting(), datetime(2026, 12, 2, 9, 0, tzinfo=UTC))
    assert (message.state, message.stopped_because) == ("stopped", "the day of the slot is over")
    assert mailoutbox == []


def test_nobody_is_told_of_the_end_of_a_slot_whose_day_is_over() -> None:
    message = after(waiting())
    messages.call_off(appointment=message.appointment, now=datetime(2026, 12, 2, 9, 0, tzinfo=UTC))
    assert Message.objects.count() == 1


def test_what_is_wanted_later_waits_for_its_time(mailoutbox: list[Any]) -> None:
    message = waiting()
    Message.objects.filter(pk=message.pk).update(wanted_at=NOW + timedelta(hours=2))
    assert after(message).state == "waiting"
    assert after(message, NOW + timedelta(hours=2)).state == "sent"


def test_a_post_office_that_is_shut_leaves_a_failure_to_look_at(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    message = waiting()
    monkeypatch.setattr(mail, "get_connection", shut)
    message = after(message)
    assert message.state == "failed"
    assert "could not be handed over: nobody answers" in message.stopped_because


def shut(*args: Any, **kwargs: Any) -> NoReturn:
    raise ConnectionRefusedError("nobody answers")


def test_no_more_go_at_once_than_the_limit(mailoutbox: list[Any]) -> None:
    for _ in range(3):
        waiting()
    assert messages.deliver_waiting(now=NOW, limit=2)["sent"] == 2
    assert len(mailoutbox) == 2


def test_one_reason_puts_one_message_into_the_outbox(mailoutbox: list[Any]) -> None:
    whose = builders.patient(builders.site(), email="ada@example.invalid")
    review = builders.procedure(of=builders.injury(of=whose)).reviews.get(step__code="6m")
    for _ in range(2):
        messages.put(
            patient=whose,
            site=whose.site,
            purpose="reminder",
            key=f"reminder:{review.pk}:1",
            review=review,
            number=1,
            now=NOW,
        )
    message = after(Message.objects.get())
    assert (message.state, len(mailoutbox)) == ("sent", 1)
    assert "ring North Hospital" in mailoutbox[0].body


def test_nobody_is_reminded_of_what_is_booked(mailoutbox: list[Any]) -> None:
    booked_message = waiting()
    review = booked_message.review
    reminder = messages.put(
        patient=booked_message.patient,
        site=booked_message.site,
        purpose="reminder",
        key="reminder",
        review=review,
        now=NOW,
    )
    assert (after(reminder).state, reminder.stopped_because) == ("stopped", "the review is booked")
