"""Who is asked at home, who is reminded, and who is left alone."""

import logging
import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core import mail

from followup.models import Invitation, InvitationLink, Message, Questionnaire, Review, Score
from followup.models.hardware import HardwareStep
from followup.selectors.invitations import hash_of
from followup.services import answers, invitations, reviews
from followup.services.invitations import Invited
from registry.errors import BadInput, IllegalTransition
from registry.models import Patient, Procedure
from registry.services import patients, voiding
from registry.services.enrolment import ConsentGiven
from tests import builders, outbox
from tests.builders import NOW, TODAY
from tests.followup.asked import dumped, invited, operated, review_now, site_that_asks

pytestmark = pytest.mark.usefixtures("defaults")


def run(days: int = 0) -> Invited:
    return invitations.invite_patients(now=NOW + timedelta(days=days))


def sent(days: int = 0) -> list[int]:
    """Deliver what waits and return the numbers of the messages that went."""
    before = set(Message.objects.filter(state="sent").values_list("pk", flat=True))
    outbox.policy()
    outbox.run(NOW + timedelta(days=days))
    gone = Message.objects.filter(state="sent").exclude(pk__in=before)
    return list(gone.values_list("number", flat=True))


def ended(patient: Patient, status: str) -> None:
    patient.refresh_from_db()
    patients.change_status(
        patient=patient,
        status=status,
        on=TODAY,
        note="",
        expected_version=patient.version,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_an_open_window_invites_once_with_a_message_in_the_outbox() -> None:
    review = review_now(operated(language="de"))
    assert run() == Invited(1, 0, 0)
    assert run() == Invited(0, 0, 0)
    invitation = Invitation.objects.get()
    assert (invitation.review, invitation.language) == (review, "de")
    assert invitation.contents == [
        *("shape", "pain", "function", "satisfaction", "work", "sport", "hardware"),
        "quickdash",
    ]
    assert invitation.expires_at == NOW + timedelta(days=21)
    message = Message.objects.get()
    assert (message.purpose, message.number, message.invitation) == (
        *("questionnaire", 0),
        invitation,
    )
    assert not InvitationLink.objects.exists()


def test_delivery_hands_out_the_link_and_starts_the_clock() -> None:
    operated()
    run()
    assert sent() == [0]
    invitation = Invitation.objects.get()
    assert invitation.sent_at == NOW
    link = InvitationLink.objects.get()
    assert link.invitation == invitation
    (address,) = re.findall(r"/q/([A-Za-z0-9_-]{43})/", str(mail.outbox[0].body))
    assert hash_of(address) == link.token_hash
    # Neither the message, nor its steps, nor the trail keep the words that went.
    assert address not in dumped()


def test_a_booked_patient_is_asked_as_well() -> None:
    builders.booked(review_now(operated()))
    run()
    assert Message.objects.filter(purpose="questionnaire").count() == 1
    # One message a day: that of the slot went first.
    sent()
    sent(1)
    assert Message.objects.get(purpose="questionnaire").state == "sent"


@pytest.mark.parametrize("days_ago", [60, 150])
def test_outside_every_window_nobody_is_invited(days_ago: int) -> None:
    procedure = operated(days_ago)
    assert not procedure.reviews.filter(opens_on__lte=TODAY, closes_on__gte=TODAY).exists()
    assert run() == Invited(0, 0, 0)


def test_a_site_that_has_not_switched_it_on_invites_nobody() -> None:
    operated()
    site_that_asks().questionnaire_setup.__class__.objects.update(invites=False)
    assert run() == Invited(0, 0, 0)


def test_whoever_opted_out_of_contact_is_not_invited_until_they_change_their_mind() -> None:
    patient = operated().injury.patient
    for days, decision, invited_then in ((0, "opted_out", 0), (1, "given", 1)):
        patients.add_consent(
            patient=patient,
            site=patient.site,
            given=ConsentGiven("contact", decision, TODAY - timedelta(days=2 - days), "phone"),
            by=patient.recorded_by,
            now=NOW,
            today=TODAY,
        )
        assert run().invited == invited_then


def test_a_step_for_which_the_site_asks_nothing_invites_nobody() -> None:
    review = review_now(operated())
    Questionnaire.objects.create(
        site=review.site, step_code=review.step.code, number=1, contents=[], made_at=NOW
    )
    assert run() == Invited(0, 0, 0)


def test_the_newest_choice_of_a_site_counts() -> None:
    review = review_now(operated())
    for number, contents in ((1, ["pain", "work"]), (2, ["pain"])):
        Questionnaire.objects.create(
            site=review.site,
            step_code=review.step.code,
            number=number,
            contents=contents,
            made_at=NOW,
        )
    run()
    assert Invitation.objects.get().contents == ["pain"]


def test_hardware_that_is_out_is_not_asked_about() -> None:
    operation = operated()
    builders.procedure(
        operation.injury,
        kind="implant_removal",
        performed_on=TODAY - timedelta(days=90),
        revises=operation,
        construct=None,
    )
    run()
    row = Invitation.objects.get(review__procedure=operation)
    assert "hardware" not in row.contents
    assert "pain" in row.contents


def test_reminders_go_on_day_seven_and_twelve_and_then_no_more() -> None:
    operated()
    run()
    went = {day: sent(day) for day in range(21) if run(day) is not None}
    assert {day: numbers for day, numbers in went.items() if numbers} == {0: [0], 7: [1], 12: [2]}
    assert Invitation.objects.get().reminder == 2


def test_a_missed_night_is_caught_up_and_sends_one_reminder_not_two() -> None:
    operated()
    run()
    sent()
    assert run(13).reminded == 1
    assert sent(13) == [2]


def test_whoever_answered_on_day_eight_gets_no_text_on_day_twelve() -> None:
    operated()
    run()
    sent()
    run(7)
    assert sent(7) == [1]
    day_eight = NOW + timedelta(days=8)
    answers.complete(invitation=Invitation.objects.get(), now=day_eight)
    assert run(12) == Invited(0, 0, 0)
    assert sent(12) == []


def test_an_invitation_that_has_not_gone_is_not_reminded_of() -> None:
    operated()
    run()
    Message.objects.update(wanted_at=datetime(2030, 1, 1, tzinfo=UTC))
    assert run(7).reminded == 0


def test_whoever_came_to_clinic_is_not_reminded() -> None:
    operated()
    run()
    sent()
    Review.objects.update(state="attended", attended_on=TODAY)
    assert run(7).reminded == 0


@pytest.mark.parametrize("status", ["died", "withdrawn", "moved"])
def test_the_end_of_follow_up_kills_the_link_at_once(status: str) -> None:
    invitation, _ = invited()
    ended(invitation.review.procedure.injury.patient, status)
    invitation.refresh_from_db()
    assert invitation.revoked_at == NOW
    assert run(7) == Invited(0, 0, 0)


@pytest.mark.parametrize("status", ["died", "withdrawn", "moved"])
def test_whoever_is_under_follow_up_again_is_asked_again_once(status: str) -> None:
    invitation, _ = invited()
    patient = invitation.review.procedure.injury.patient
    for _ in range(2):
        ended(patient, status)
        assert run().invited == 0
        ended(patient, "active")
        assert run() == Invited(1, 0, 0)
        assert run() == Invited(0, 0, 0)
    rows = Invitation.objects.filter(review=invitation.review)
    assert rows.count() == 3
    assert rows.get(revoked_at__isnull=True).messages.get().state == "waiting"


def test_what_a_person_withdrew_stays_withdrawn_when_the_patient_comes_back() -> None:
    invitation, _ = invited()
    by, patient = invitation.review.recorded_by, invitation.review.procedure.injury.patient
    invitations.revoke(invitation=invitation, because="by mistake", by=by, now=NOW)
    ended(patient, "moved")
    ended(patient, "active")
    assert run() == Invited(0, 0, 0)


def test_what_was_answered_is_not_asked_again_when_the_patient_comes_back() -> None:
    invitation, _ = invited()
    answers.complete(invitation=invitation, now=NOW)
    ended(invitation.review.procedure.injury.patient, "moved")
    ended(invitation.review.procedure.injury.patient, "active")
    assert run() == Invited(0, 0, 0)


def test_a_voided_operation_kills_the_link() -> None:
    invitation, _ = invited()
    operation: Procedure = invitation.review.procedure
    voiding.void_row(
        row=operation,
        reason="wrong patient",
        expected_version=operation.version,
        by=operation.recorded_by,
        now=NOW,
    )
    invitation.refresh_from_db()
    assert invitation.revoked_because == "the operation was voided"


def test_a_review_that_is_not_needed_any_more_gets_no_link() -> None:
    invitation, _ = invited()
    review, by = invitation.review, invitation.review.recorded_by
    reviews.mark_not_needed(
        review=review, reason="seen elsewhere", expected_version=review.version, by=by, now=NOW
    )
    with pytest.raises(IllegalTransition, match="the review or the follow-up has ended"):
        invitations.hand_over(review=review, by=by, now=NOW)


def test_revoking_stops_what_waits_and_happens_once() -> None:
    operated()
    run()
    invitation = Invitation.objects.get()
    by = invitation.review.recorded_by
    assert invitations.revoke(invitation=invitation, because="by mistake", by=by, now=NOW)
    assert not invitations.revoke(invitation=invitation, because="again", by=by, now=NOW)
    assert Message.objects.get().state == "stopped"
    invitation.refresh_from_db()
    assert invitation.revoked_because == "by mistake"
    # What a person withdrew is not sent again by the night.
    assert run(1) == Invited(0, 0, 0)


def test_after_revoking_a_person_can_ask_anew() -> None:
    invitation, _ = invited()
    by = invitation.review.recorded_by
    invitations.revoke(invitation=invitation, because="by mistake", by=by, now=NOW)
    other, _ = invitations.hand_over(review=invitation.review, by=by, now=NOW)
    assert other.pk != invitation.pk


def test_a_link_by_hand_prolongs_what_has_run_out() -> None:
    invitation, _ = invited()
    late = NOW + timedelta(days=30)
    by = invitation.review.recorded_by
    again, _ = invitations.hand_over(review=invitation.review, by=by, now=late)
    assert again.pk == invitation.pk
    assert again.expires_at == late + timedelta(days=21)


def test_reminders_of_what_was_prolonged_count_from_the_new_link() -> None:
    operated()
    run()
    sent()
    assert run(7).reminded == 1
    sent(7)
    invitation = Invitation.objects.get()
    by = invitation.review.recorded_by
    late = NOW + timedelta(days=30)
    invitations.hand_over(review=invitation.review, by=by, now=late)
    invitation.refresh_from_db()
    assert (invitation.sent_at, invitation.reminder) == (late, 1)
    # The first reminder went with the first link; the second is due twelve days after the new one.
    assert {day: run(day).reminded for day in (31, 37, 41, 42, 43)} == {
        **{31: 0, 37: 0, 41: 0, 43: 0},
        42: 1,
    }


def test_a_link_by_hand_in_good_time_changes_nothing_of_the_reminders() -> None:
    invitation, _ = invited()
    by, later = invitation.review.recorded_by, NOW + timedelta(days=3)
    again, _ = invitations.hand_over(review=invitation.review, by=by, now=later)
    assert (again.sent_at, again.expires_at) == (NOW, NOW + timedelta(days=21))


def test_a_link_by_hand_is_refused_where_nothing_is_set_up() -> None:
    review = builders.procedure().reviews.get(step__code="6m")
    with pytest.raises(BadInput, match="asks nobody at home yet"):
        invitations.hand_over(review=review, by=review.recorded_by, now=NOW)


def test_a_link_by_hand_is_refused_after_the_answer() -> None:
    invitation, _ = invited()
    answers.complete(invitation=invitation, now=NOW)
    with pytest.raises(BadInput, match="answered already"):
        invitations.hand_over(review=invitation.review, by=invitation.review.recorded_by, now=NOW)


def test_what_was_left_unfinished_is_kept_when_the_time_is_over() -> None:
    invitation, _ = invited()
    answers.keep(invitation=invitation, given={"pain": "4"}, next_page="", wordings={}, now=NOW)
    assert run(20).landed == 0
    assert run(22).landed == 1
    assert run(23).landed == 0
    score = Score.objects.get()
    assert (score.taken_on, score.mode) == (TODAY, "remote")


def give(invitation: Invitation, days: int, **given: str) -> None:
    at = NOW + timedelta(days=days)
    answers.keep(invitation=invitation, given=given, next_page="", wordings={}, now=at)


def scored() -> set[tuple[str, int, int]]:
    """Return instrument, number and how many days from today, of every score."""
    rows = Score.objects.values_list("instrument", "value", "taken_on")
    return {(code, int(value or 0), (on - TODAY).days) for code, value, on in rows}


def test_what_is_answered_after_prolonging_becomes_scores_of_its_own_day() -> None:
    invitation, _ = invited()
    give(invitation, 0, pain="4")
    assert run(22).landed == 1
    late = NOW + timedelta(days=30)
    by = invitation.review.recorded_by
    invitations.hand_over(review=invitation.review, by=by, now=late)
    assert run(30).landed == 0
    give(invitation, 31, pain="2", function="70")
    answers.complete(invitation=invitation, now=NOW + timedelta(days=31))
    assert scored() == {("pain_nrs", 4, 0), ("pain_nrs", 2, 31), ("sane", 70, 31)}
    assert run(60).landed == 0


def test_what_is_left_unfinished_after_prolonging_is_kept_as_well() -> None:
    invitation, _ = invited()
    give(invitation, 0, pain="4")
    run(22)
    by = invitation.review.recorded_by
    invitations.hand_over(review=invitation.review, by=by, now=NOW + timedelta(days=30))
    give(invitation, 31, pain="2")
    assert run(52).landed == 1
    assert scored() == {("pain_nrs", 4, 0), ("pain_nrs", 2, 31)}


def test_what_is_sent_off_unchanged_after_prolonging_stays_one_score() -> None:
    invitation, _ = invited()
    give(invitation, 0, pain="4")
    run(22)
    by = invitation.review.recorded_by
    invitations.hand_over(review=invitation.review, by=by, now=NOW + timedelta(days=30))
    answers.complete(invitation=invitation, now=NOW + timedelta(days=30))
    assert scored() == {("pain_nrs", 4, 0)}


def test_a_complaint_that_is_new_after_prolonging_is_heard_and_the_old_one_once() -> None:
    invitation, _ = invited()
    give(invitation, 0, hw_rubs="often")
    heard = HardwareStep.objects.filter(source="patient")
    for days, given in ((30, {}), (60, {"hw_out": "yes"})):
        run(days - 1)
        late = NOW + timedelta(days=days)
        by = invitation.review.recorded_by
        invitations.hand_over(review=invitation.review, by=by, now=late)
        give(invitation, days, **given)
        assert heard.count() == 1
    answers.complete(invitation=invitation, now=NOW + timedelta(days=60))
    assert heard.count() == 2


def test_one_row_that_cannot_be_kept_does_not_stop_the_night(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    bad, good = invited()[0], invited()[0]
    for invitation in (bad, good):
        give(invitation, 0, pain="4")
    record = answers.scores.record_score

    def refuse(**values: Any) -> Score:
        if values["injury"].pk == bad.review.procedure.injury_id:
            raise BadInput({"taken_on": "the day of Ada"})
        return record(**values)

    with monkeypatch.context() as patched, caplog.at_level(logging.WARNING):
        patched.setattr(answers.scores, "record_score", refuse)
        assert run(22).landed == 1
    assert Score.objects.get().injury_id == good.review.procedure.injury_id
    assert f"invitation {bad.pk} are no scores yet: BadInput" in caplog.text
    assert "Ada" not in caplog.text
    # Nothing of it was half-saved, and the next night tries again.
    assert run(23).landed == 1
    assert Score.objects.count() == 2


def test_two_nights_at_once_invite_once() -> None:
    review = review_now(operated())
    run()
    Message.objects.all().delete()
    made = invitations.invite_patients(now=NOW)
    assert made.invited == 0
    assert Invitation.objects.filter(review=review).count() == 1
