"""Delivery: what goes, what waits, what is stopped, and that nothing goes twice."""

import uuid
from datetime import UTC, date, datetime, timedelta
from threading import Event
from typing import Any

import pytest

from followup.exchange.parcels import Answer, Outcome
from followup.models import Invitation, InvitationLink, Message, MessageTemplate
from followup.rules import retry
from followup.services import delivery, invitations, undelivered
from registry.models import Site
from registry.models.audit import AuditEntry
from tests import builders
from tests.builders import NOW, TODAY, booked
from tests.followup.asked import operated
from tests.outbox import (
    MORNING,
    NIGHT,
    after,
    by_http,
    decided,
    died,
    policy,
    put,
    reminder,
    run,
    steps,
    waiting,
)
from tests.provider import Treatment, serving

pytestmark = pytest.mark.usefixtures("defaults")


def test_a_message_says_when_and_where(mailoutbox: list[Any]) -> None:
    message = after(waiting())
    (letter,) = mailoutbox
    assert letter.to == ["ada@example.invalid"]
    assert "Tuesday, 1 December 2026, at 09:00" in letter.body
    assert "North Hospital" in letter.body
    assert (message.state, message.sent_at, message.means) == ("sent", NOW, "email")
    assert letter.extra_headers["Message-ID"] == f"<{message.uuid}@holdfast.invalid>"


def test_a_letter_names_neither_the_patient_nor_the_complaint(mailoutbox: list[Any]) -> None:
    message = after(waiting())
    told = f"{mailoutbox[0].subject} {mailoutbox[0].body}"
    assert message.patient.key not in told
    assert message.patient.identity.family_name not in told


def test_the_version_of_the_words_that_went_is_kept(mailoutbox: list[Any]) -> None:
    message = after(waiting(language="de"))
    assert mailoutbox[0].subject == "Ihr Termin"
    assert "Dienstag, 1. Dezember 2026" in mailoutbox[0].body
    assert message.template is not None
    assert (message.template.language, message.template.number) == ("de", 1)


def test_delivering_twice_sends_once(mailoutbox: list[Any]) -> None:
    waiting()
    first, second = run(), run()
    assert (first["sent"], second["sent"]) == (1, 0)
    assert len(mailoutbox) == 1


def test_what_is_taken_up_by_one_worker_is_not_taken_up_by_another() -> None:
    ours = [waiting().pk for _ in range(3)]
    first = delivery.take_up(claim=uuid.uuid4(), number=2, now=NOW)
    second = delivery.take_up(claim=uuid.uuid4(), number=5, now=NOW)
    assert (first, second) == (ours[:2], ours[2:])
    assert delivery.take_up(claim=uuid.uuid4(), number=5, now=NOW) == []


def test_nothing_is_handed_over_by_whoever_lost_the_message(mailoutbox: list[Any]) -> None:
    message = waiting()
    slow = uuid.uuid4()
    delivery.take_up(claim=slow, number=1, now=NOW)
    Message.objects.filter(pk=message.pk).update(claim=uuid.uuid4())
    assert delivery.begin(message_id=message.pk, claim=slow, now=NOW) == "waiting"
    assert mailoutbox == []
    assert "handing_over" not in steps(message)


def begun(message: Message, at: datetime = NOW) -> delivery.Begun:
    """Let a worker begin to hand a message over, and stop there."""
    claim = uuid.uuid4()
    delivery.take_up(claim=claim, number=1, now=at)
    found = delivery.begin(message_id=message.pk, claim=claim, now=at)
    assert isinstance(found, delivery.Begun)
    return found


def test_before_anything_leaves_it_is_written_down_that_it_will() -> None:
    message = waiting()
    begun(message)
    message.refresh_from_db()
    assert (message.state, message.handed_at, message.tries) == ("sending", NOW, 1)
    assert steps(message) == ["claimed", "handing_over"]


def test_an_answer_that_comes_after_the_message_was_parked_is_still_the_answer() -> None:
    message = waiting()
    late = begun(message)
    after(message, NOW + timedelta(minutes=11))
    assert Message.objects.get().state == "unknown"
    delivery.settle(begun=late, answer=Answer(Outcome.ACCEPTED), now=MORNING, chance=1)
    assert Message.objects.get().state == "sent"
    assert steps(message) == ["claimed", "handing_over", "unknown", "accepted"]


def test_an_answer_that_comes_after_a_person_decided_changes_nothing() -> None:
    message = waiting()
    late = begun(message)
    Message.objects.filter(pk=message.pk).update(state="stopped", claim=None)
    delivery.settle(begun=late, answer=Answer(Outcome.ACCEPTED), now=MORNING, chance=1)
    assert Message.objects.get().state == "stopped"


def test_nothing_goes_at_night_and_it_goes_in_the_morning(mailoutbox: list[Any]) -> None:
    message = after(waiting(), NIGHT)
    assert (message.state, message.wanted_at, mailoutbox) == ("waiting", MORNING, [])
    assert message.stopped_because == "quiet hours; it goes after them"
    assert after(message, MORNING - timedelta(seconds=1)).state == "waiting"
    assert after(message, MORNING).state == "sent"
    assert steps(message) == ["claimed", "put_off", "claimed", "handing_over", "accepted"]


def test_the_night_is_that_of_the_site(mailoutbox: list[Any]) -> None:
    builders.site("far", time_zone="Asia/Tokyo")
    message = after(waiting("far"), datetime(2026, 11, 25, 12, 30, tzinfo=UTC))
    assert (message.state, mailoutbox) == ("waiting", [])
    assert message.wanted_at == datetime(2026, 11, 25, 23, 0, tzinfo=UTC)


def test_a_site_keeps_its_own_hours_for_each_means(mailoutbox: list[Any]) -> None:
    policy(sends_text=False, email_quiet_from="18:00", email_quiet_until="10:30")
    message = after(waiting(), datetime(2026, 11, 25, 18, 0, tzinfo=UTC))
    assert message.wanted_at == datetime(2026, 11, 26, 10, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("identity", "because"),
    [
        ({"refused_means": ["email"]}, "the patient refused contact by e-mail"),
        ({"email": ""}, "no address for e-mail"),
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


def test_a_message_left_over_from_before_a_death_never_goes(mailoutbox: list[Any]) -> None:
    message = waiting()
    died(message)
    Message.objects.filter(pk=message.pk).update(state="waiting", stopped_because="")
    assert after(message).stopped_because == "the patient's follow-up has ended (died)"
    assert mailoutbox == []


def test_what_is_wanted_later_waits_for_its_time(mailoutbox: list[Any]) -> None:
    message = waiting()
    Message.objects.filter(pk=message.pk).update(wanted_at=NOW + timedelta(hours=2))
    assert after(message).state == "waiting"
    assert after(message, NOW + timedelta(hours=2)).state == "sent"


def test_no_more_go_at_once_than_the_limit(mailoutbox: list[Any]) -> None:
    for _ in range(3):
        waiting()
    assert run(limit=2)["sent"] == 2
    assert len(mailoutbox) == 2


def test_nobody_is_reminded_of_what_is_booked(mailoutbox: list[Any]) -> None:
    message = reminder()
    assert message.review is not None
    booked(message.review)
    assert (after(message).state, message.stopped_because) == ("stopped", "the review is booked")
    assert [letter.subject for letter in mailoutbox] == ["Your appointment"]


def test_the_preferred_means_is_taken_where_the_site_has_it(mailoutbox: list[Any]) -> None:
    with serving() as provider:
        policy()
        Site.objects.update(telephone="0555 010 100")
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("django.conf.settings.CARRIERS", by_http(provider))
            message = after(waiting(phone="0555 010 200", preferred_means="text"))
    (body,) = provider.bodies
    assert (message.state, message.means, mailoutbox) == ("sent", "text", [])
    assert (body["to"], body["key"], body["subject"]) == ("0555 010 200", str(message.uuid), "")
    assert body["text"] == (
        "North Hospital: your visit is on 1 December 2026 at 09:00. If you cannot come, please ring "
        "0555 010 100. No more messages? Ring and tell us."
    )
    assert message.steps.get(kind="accepted").reference == f"ref-{body['key'][:8]}"


def test_a_patient_gets_one_reminder_a_day_and_three_a_week(mailoutbox: list[Any]) -> None:
    first = reminder()
    assert first.review is not None
    others = [put(first.review) for _ in range(4)]
    days = []
    for day in range(9):
        run(NOW + timedelta(days=day))
        days.append(len(mailoutbox))
    assert days == [1, 2, 3, 3, 3, 3, 3, 4, 5]
    others[-1].refresh_from_db()
    assert "enough messages for now" in others[0].steps.filter(kind="put_off")[0].detail


def test_what_a_person_booked_does_not_wait_for_the_counts(mailoutbox: list[Any]) -> None:
    message = after(reminder())
    assert message.review is not None
    booked(message.review)
    run()
    assert [letter.subject for letter in mailoutbox][1:] == ["Your appointment"]


def test_a_provider_that_fails_is_tried_again_later_and_later_until_a_person_has_to_look(
    settings: Any,
) -> None:
    policy(sends_email=False)
    message, moment, waits = waiting(phone="1"), NOW, []
    with serving(lambda key, times: Treatment(status=503)) as provider:
        settings.CARRIERS = by_http(provider)
        while (message := after(message, moment)).state == "waiting":
            waits.append(message.wanted_at - moment)
            moment = message.wanted_at
    assert message.state == "failed"
    assert message.stopped_because == "tried 8 times; the provider answered 503"
    assert waits == [retry.wait_after(tries, 1.0) for tries in range(1, 8)]
    assert provider.received == {str(message.uuid): 8}


def test_what_is_refused_is_not_tried_again(settings: Any) -> None:
    policy(sends_email=False)
    message = waiting(phone="1")
    with serving(lambda key, times: Treatment(status=422)) as provider:
        settings.CARRIERS = by_http(provider)
        after(message)
        after(message, MORNING)
    message.refresh_from_db()
    assert (message.state, message.stopped_because) == ("failed", "the provider answered 422")
    assert provider.received.total() == 1


def test_a_provider_that_broke_may_have_taken_it_and_does_not_get_it_again(settings: Any) -> None:
    policy(sends_email=False)
    message = waiting(phone="1")
    with serving(lambda key, times: Treatment(status=500)) as provider:
        settings.CARRIERS = by_http(provider)
        after(message)
        after(message, MORNING)
    message.refresh_from_db()
    assert (message.state, message.stopped_because) == ("unknown", "the provider answered 500")
    assert provider.received.total() == 1


def test_a_later_try_that_is_refused_may_be_refused_for_what_the_first_brought(
    settings: Any,
) -> None:
    policy(sends_email=False)
    message = waiting(phone="1")
    with serving(lambda key, times: Treatment(status=503 if times == 1 else 422)) as provider:
        settings.CARRIERS = by_http(provider)
        assert after(message).state == "waiting"
        after(message, MORNING)
    message.refresh_from_db()
    assert (message.state, message.tries) == ("unknown", 2)
    assert message.stopped_because == "the provider answered 422"


@pytest.mark.parametrize(("first", "then"), [(0, "unknown"), (422, "failed")])
def test_what_a_person_sends_again_is_a_later_try_where_it_keeps_its_key(
    first: int, then: str, settings: Any
) -> None:
    policy(sends_email=False)
    message = waiting(phone="1")
    handed = iter([first, 409])
    with serving(lambda key, times: Treatment(status=next(handed))) as provider:
        settings.CARRIERS = by_http(provider)
        message = after(message)
        by = message.patient.recorded_by
        undelivered.send_again(message=message, expected_version=message.version, by=by, now=NOW)
        message = after(message)
    assert (message.round, message.tries, message.state) == (2, 1, then)


def test_what_got_no_answer_is_parked_and_not_sent_again(settings: Any) -> None:
    policy(sends_email=False)
    message = waiting(phone="1")
    over = Event()
    with serving(lambda key, times: Treatment(wait_after=over)) as provider:
        settings.CARRIERS = by_http(provider, seconds=0.2)
        after(message)
        after(message, MORNING)
        over.set()
    message.refresh_from_db()
    assert message.state == "unknown"
    assert message.stopped_because == "no answer after the message had left: ReadTimeout"
    assert provider.received.total() == 1


def test_a_message_without_words_is_for_a_person(mailoutbox: list[Any]) -> None:
    message = waiting()
    MessageTemplate.objects.all().delete()
    assert after(message).state == "failed"
    assert "there is no template: Appointment booked" in message.stopped_because


def test_a_questionnaire_without_words_leaves_no_link_and_starts_no_clock() -> None:
    policy()
    operated()
    invitations.invite_patients(now=NOW)
    words = MessageTemplate.objects.filter(purpose="questionnaire")
    words.update(body="{link} {date}")
    message = after(Message.objects.get())
    assert (message.state, steps(message)) == ("failed", ["claimed", "failed"])
    assert message.stopped_because == "nothing is known for {date} of its template"
    assert not InvitationLink.objects.exists()
    assert Invitation.objects.get().sent_at is None
    assert not AuditEntry.objects.filter(table="followup_invitationlink").exists()


def test_one_message_that_cannot_be_made_does_not_hold_up_the_others(
    mailoutbox: list[Any], monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    policy(sends_text=False)
    bad, good = reminder(preferred_means="letter", address="1 Saltgate"), waiting()
    settings.CARRIERS = {"email": {"by": "mail", "folder": ""}, "text": settings.CARRIERS["text"]}
    counts = run()
    assert (counts["failed"], counts["sent"]) == (1, 1)
    bad.refresh_from_db()
    good.refresh_from_db()
    assert bad.stopped_because == "it could not be made: KeyError"
    assert (good.state, len(mailoutbox)) == ("sent", 1)


def test_the_trail_holds_what_became_of_a_message() -> None:
    message = after(waiting())
    entries = AuditEntry.objects.filter(table="followup_message", row_id=str(message.pk))
    assert [entry.after["state"] for entry in entries.order_by("id")] == [
        "waiting",
        "sending",
        "sending",
        "sent",
    ]
