"""What is answered at home is kept, heeded at once, and counted in the end."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from decimal import Decimal
from time import sleep
from typing import Any

import pytest
from django.db import connection, transaction

from followup.models import Answer, HardwareDecision, Invitation, Message, Score, Task
from followup.services import answers, completion, hardware, invitations, messages, tasks
from registry.errors import BadInput, IllegalTransition
from registry.models.audit import AuditEntry
from registry.services import erasure, patients
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.asked import invited, operated, review_now, wording

pytestmark = pytest.mark.usefixtures("defaults")
LATER = NOW + timedelta(hours=2)


def keep(invitation: Invitation, **given: str) -> dict[str, str]:
    return answers.keep(invitation=invitation, given=given, next_page="pain", wordings={}, now=NOW)


def test_an_answer_is_kept_as_it_goes_and_a_new_one_takes_its_place() -> None:
    invitation, _ = invited()
    keep(invitation, pain="3", satisfaction="rather")
    keep(invitation, pain="5")
    assert dict(Answer.objects.values_list("question", "value")) == {
        "pain": "5",
        "satisfaction": "rather",
    }
    row = Answer.objects.get(question="pain")
    assert (row.version, row.site, row.language) == (2, invitation.site, "en")
    before = AuditEntry.objects.filter(table="followup_answer", row_id=str(row.pk), action="update")
    assert before.get().before["value"] == "3"
    invitation.refresh_from_db()
    assert invitation.at_page == "pain"


def test_the_same_answer_again_changes_nothing() -> None:
    invitation, _ = invited()
    keep(invitation, pain="3")
    keep(invitation, pain="3")
    assert Answer.objects.get().version == 1


def test_an_answer_is_taken_back_by_an_empty_one() -> None:
    invitation, _ = invited()
    keep(invitation, function="80")
    keep(invitation, function="")
    answers.complete(invitation=invitation, now=NOW)
    assert not Score.objects.exists()


def test_an_alarming_answer_opens_a_task_for_the_same_day_when_it_is_given() -> None:
    invitation, _ = invited()
    found = keep(invitation, pain="9", shape="yes")
    assert set(found) == {"pain", "shape"}
    rows = {task.key.rsplit(":", 1)[1]: task for task in Task.objects.all()}
    assert set(rows) == {"pain", "shape"}
    task = rows["pain"]
    assert (task.kind, task.due_on, task.review) == ("alarming_answer", TODAY, invitation.review)
    assert task.patient == invitation.review.procedure.injury.patient
    assert task.words == "Answered at home: pain 9 of 10"
    invitation.refresh_from_db()
    assert invitation.completed_at is None


def test_the_day_of_the_task_is_that_of_the_site() -> None:
    invitation, _ = invited()
    type(invitation.site).objects.update(time_zone="Pacific/Auckland")
    evening = NOW.replace(hour=20)
    answers.keep(
        invitation=Invitation.objects.get(),
        given={"pain": "10"},
        next_page="",
        wordings={},
        now=evening,
    )
    assert Task.objects.get().due_on == TODAY + timedelta(days=1)


def test_a_corrected_answer_leaves_the_task_with_a_note() -> None:
    invitation, _ = invited()
    keep(invitation, pain="9")
    keep(invitation, pain="2")
    task = Task.objects.get()
    assert task.done_at is None
    assert task.words == (
        "Answered at home: pain 9 of 10; corrected by the patient 25 Nov 2026 09:00"
    )
    keep(invitation, pain="3")
    assert Task.objects.get().words == task.words
    keep(invitation, pain="10")
    assert Task.objects.get().words.endswith("; given again by the patient 25 Nov 2026 09:00")


def test_a_task_that_was_done_is_not_opened_again_by_the_same_invitation() -> None:
    invitation, _ = invited()
    keep(invitation, pain="9")
    by = invitation.review.recorded_by
    tasks.close_task(
        task=Task.objects.get(), note="rang; better", expected_version=1, by=by, now=NOW
    )
    keep(invitation, pain="10")
    keep(invitation, pain="9", satisfaction="not")
    assert Task.objects.count() == 1


def test_a_quiet_answer_alarms_nobody() -> None:
    invitation, _ = invited()
    assert keep(invitation, pain="8", shape="no") == {}
    assert not Task.objects.exists()


def test_completed_answers_are_scores_of_the_patient_at_home() -> None:
    invitation, _ = invited()
    words = wording(invitation.site)
    given = {f"quickdash:{number}": "2" for number in range(1, 11)}
    answers.keep(
        invitation=invitation,
        given=given,
        next_page="",
        wordings={"quickdash": words.pk},
        now=NOW,
    )
    keep(invitation, pain="4", function="80", satisfaction="very", work="same")
    answers.complete(invitation=invitation, now=NOW)
    rows = {row.instrument: row for row in Score.objects.all()}
    assert set(rows) == {"pain_nrs", "sane", "quickdash"}
    assert {row.mode for row in rows.values()} == {"remote"}
    assert {row.taken_on for row in rows.values()} == {TODAY}
    # Ten answers of 2: (2 - 1) x 25.
    assert rows["quickdash"].value == Decimal(25)
    assert rows["quickdash"].items == {str(number): 2.0 for number in range(1, 11)}
    assert (rows["pain_nrs"].value, rows["sane"].value) == (Decimal(4), Decimal(80))
    assert Answer.objects.get(question="quickdash:3").wording == words


def test_too_few_answers_are_kept_with_the_reason_and_without_a_number() -> None:
    invitation, _ = invited()
    wording(invitation.site)
    given = {f"quickdash:{number}": "2" for number in range(1, 10)}
    answers.keep(invitation=invitation, given=given, next_page="", wordings={}, now=NOW)
    answers.complete(invitation=invitation, now=NOW)
    row = Score.objects.get(instrument="quickdash")
    assert row.value is None
    assert row.not_computable_reason == "9 of 11 items answered; at least 10 are needed"


def test_somebody_else_who_answers_is_named_as_such() -> None:
    invitation, _ = invited()
    keep(invitation, who="other", pain="4")
    answers.complete(invitation=invitation, now=NOW)
    assert Score.objects.get().mode == "proxy"


def test_the_day_of_a_score_is_that_of_the_last_answer_at_the_site() -> None:
    invitation, _ = invited()
    keep(invitation, pain="4")
    answers.complete(invitation=invitation, now=NOW + timedelta(days=2))
    assert Score.objects.get().taken_on == TODAY


def test_answers_complete_a_review_that_lacked_only_them() -> None:
    operation = operated()
    review = review_now(operation)
    by = operation.recorded_by
    review.not_obtainable = {
        item: "not possible"
        for item in completion.still_missing(review)
        if item not in ("score:pain_nrs", "score:sane")
    }
    review = completion.attend(
        review=review, on=TODAY, expected_version=review.version, by=by, now=NOW
    )
    assert not review.complete
    invitation, _ = invitations.hand_over(review=review, by=by, now=NOW)
    keep(invitation, pain="4", function="70")
    answers.complete(invitation=invitation, now=LATER)
    review.refresh_from_db()
    assert review.complete


def test_hardware_that_hurts_raises_the_question_of_removal() -> None:
    invitation, _ = invited()
    keep(invitation, hw_rubs="often", hw_out="unsure")
    assert not HardwareDecision.objects.exists()
    answers.complete(invitation=invitation, now=NOW)
    question = HardwareDecision.objects.get()
    assert (question.state, question.raised_because) == ("raised", "symptoms")
    assert question.reason == "patient answer: rubs often"
    assert question.procedure == invitation.review.procedure


def test_the_same_complaint_in_a_later_questionnaire_is_a_new_one_after_a_refusal() -> None:
    first, _ = invited()
    keep(first, hw_rubs="often")
    answers.complete(invitation=first, now=NOW)
    question = HardwareDecision.objects.get()
    by = question.recorded_by
    declined: dict[str, Any] = {"state": "declined", "values": {"reason": "content"}}
    at: dict[str, Any] = {"by": by, "now": NOW, "today": TODAY}
    hardware.decide(decision=question, expected_version=1, **declined, **at)
    # The same questionnaire, landed once more, is heard of already.
    Invitation.objects.update(landed_at=None)
    assert answers.land(invitation=Invitation.objects.get(), by=by, now=LATER)
    assert HardwareDecision.objects.count() == 1
    review = first.review.procedure.reviews.exclude(pk=first.review_id).latest("opens_on")
    later, _ = invitations.hand_over(review=review, by=by, now=LATER)
    keep(later, hw_rubs="often")
    answers.complete(invitation=later, now=LATER)
    assert sorted(HardwareDecision.objects.values_list("state", flat=True)) == [
        "declined",
        "raised",
    ]


def test_hardware_that_is_out_raises_nothing() -> None:
    operation = operated()
    invitation, _ = invitations.hand_over(
        review=review_now(operation), by=operation.recorded_by, now=NOW
    )
    keep(invitation, hw_out="yes")
    builders.procedure(
        operation.injury,
        kind="implant_removal",
        performed_on=TODAY,
        revises=operation,
        construct=None,
    )
    answers.complete(invitation=Invitation.objects.get(), now=LATER)
    assert not HardwareDecision.objects.exists()


def test_after_completion_nothing_can_be_changed_and_nothing_is_sent() -> None:
    invitation, _ = invited()
    messages.put(
        patient=invitation.review.procedure.injury.patient,
        site=invitation.site,
        purpose="questionnaire",
        key="questionnaire:1:1",
        invitation=invitation,
        now=NOW,
    )
    keep(invitation, pain="4")
    answers.complete(invitation=invitation, now=NOW)
    assert Message.objects.get().state == "stopped"
    for act in (
        lambda: keep(invitation, pain="9"),
        lambda: answers.complete(invitation=invitation, now=LATER),
    ):
        with pytest.raises(IllegalTransition, match="answered"):
            act()
    assert Answer.objects.get().value == "4"
    assert not Task.objects.exists()
    assert Score.objects.count() == 1


def test_answers_become_scores_once() -> None:
    invitation, _ = invited()
    keep(invitation, pain="4", hw_rubs="often")
    by = invitation.review.recorded_by
    over = NOW + timedelta(days=21)
    assert not answers.land(invitation=invitation, by=by, now=over - timedelta(hours=1))
    assert answers.land(invitation=invitation, by=by, now=over)
    assert not answers.land(invitation=invitation, by=by, now=over)
    assert Score.objects.get().version == 1


def test_answers_that_nobody_wants_any_more_become_no_scores() -> None:
    invitation, _ = invited()
    keep(invitation, pain="4")
    by = invitation.review.recorded_by
    invitations.revoke(invitation=invitation, because="by mistake", by=by, now=NOW)
    assert not answers.land(invitation=invitation, by=by, now=NOW + timedelta(days=22))
    assert not Score.objects.exists()


def test_a_review_that_was_worked_on_since_the_invitation_was_read_is_completed_as_it_is() -> None:
    operation = operated()
    invitation, _ = invitations.hand_over(
        review=review_now(operation), by=operation.recorded_by, now=NOW
    )
    keep(invitation, pain="4", function="70")
    read = Invitation.objects.select_related("review__procedure__injury", "site").get()
    review = review_now(operation)
    review.not_obtainable = {
        item: "not possible"
        for item in completion.still_missing(review)
        if item not in ("score:pain_nrs", "score:sane")
    }
    completion.attend(
        review=review,
        on=TODAY,
        expected_version=review.version,
        by=operation.recorded_by,
        now=NOW,
    )
    over = NOW + timedelta(days=22)
    assert answers.land(invitation=read, by=operation.recorded_by, now=over)
    review.refresh_from_db()
    assert review.complete


@pytest.mark.needs_postgres
@pytest.mark.django_db(transaction=True)
def test_sending_off_waits_for_a_change_of_status_and_neither_locks_the_other_out() -> None:
    invitation, _ = invited()
    keep(invitation, pain="4")
    patient = invitation.review.procedure.injury.patient

    def send_off() -> None:
        try:
            answers.complete(invitation=invitation, now=LATER)
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as pool:
        with transaction.atomic():
            # The first row that a change of status takes.
            type(patient).objects.select_for_update(no_key=True).get(pk=patient.pk)
            sending = pool.submit(send_off)
            sleep(0.5)
            assert not sending.done()
            patients.change_status(
                patient=patient,
                status="withdrawn",
                on=TODAY,
                note="",
                expected_version=patient.version,
                by=patient.recorded_by,
                now=NOW,
                today=TODAY,
            )
        with pytest.raises(IllegalTransition, match="withdrawn"):
            sending.result(timeout=300)
    assert not Score.objects.exists()


def test_the_first_page_is_opened_once() -> None:
    invitation, _ = invited()
    answers.begin(invitation=invitation, now=NOW)
    answers.begin(invitation=invitation, now=LATER)
    invitation.refresh_from_db()
    assert invitation.opened_at == NOW


def test_a_language_that_is_not_shipped_is_refused() -> None:
    invitation, _ = invited()
    answers.speak(invitation=invitation, language="de")
    invitation.refresh_from_db()
    assert invitation.language == "de"
    with pytest.raises(BadInput, match="'fr' is not shipped"):
        answers.speak(invitation=invitation, language="fr")


def test_the_answers_of_an_erased_patient_leave_every_count() -> None:
    invitation, _ = invited()
    keep(invitation, pain="4")
    whose = invitation.review.procedure.injury.patient
    erasure.erase_patient(patient=whose, reason="asked", by=whose.recorded_by, now=NOW, today=TODAY)
    assert not Answer.objects.exists()
    assert Answer.everything.get().void_reason
    invitation.refresh_from_db()
    assert invitation.revoked_at is not None
