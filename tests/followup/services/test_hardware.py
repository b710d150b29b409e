"""The question of removal: raised, decided, settled by the operation."""

from datetime import date
from typing import Any

import pytest

from followup.models import HardwareDecision
from followup.services import hardware
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models import Procedure
from registry.services import patients, voiding
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")

OPERATED = date(2026, 6, 5)
OPENS = date(2026, 8, 28)
WISH = date(2027, 1, 15)


def hook(**values: Any) -> Procedure:
    return builders.procedure(construct={"construct_type": "HP"}, performed_on=OPERATED, **values)


def raised(operation: Procedure, on: date = OPENS) -> HardwareDecision:
    hardware.raise_planned_removals(by=operation.recorded_by, now=NOW, today=on)
    return HardwareDecision.objects.get(procedure=operation)


def decide(
    question: HardwareDecision, state: str, today: date = TODAY, **values: Any
) -> HardwareDecision:
    return hardware.decide(
        decision=question,
        state=state,
        values=values,
        expected_version=question.version,
        by=question.recorded_by,
        now=NOW,
        today=today,
    )


def removal_of(operation: Procedure) -> Procedure:
    return builders.procedure(
        of=operation.injury,
        kind="implant_removal",
        revises=operation,
        performed_on=date(2026, 9, 25),
    )


@pytest.mark.parametrize(("today", "expected"), [(date(2026, 8, 27), 0), (OPENS, 1)])
def test_the_question_is_raised_when_the_window_of_removal_opens(
    today: date, expected: int
) -> None:
    by = hook().recorded_by
    assert hardware.raise_planned_removals(by=by, now=NOW, today=today) == expected


def test_asking_twice_raises_one_question() -> None:
    operation = hook()
    raised(operation)
    again = hardware.raise_planned_removals(by=operation.recorded_by, now=NOW, today=TODAY)
    assert again == 0
    assert HardwareDecision.objects.count() == 1


def sore_before(operation: Procedure) -> HardwareDecision:
    """Return a question that a complaint raised three weeks before the window of removal opens."""
    at = {"by": operation.recorded_by, "now": NOW, "on": date(2026, 8, 7)}
    question = hardware.raise_question(procedure=operation, because="symptoms", **at)
    assert question is not None
    return question


@pytest.mark.parametrize(
    ("declined_on", "expected"), [(date(2026, 8, 27), 1), (OPENS, 0), (TODAY, 0)]
)
def test_a_refusal_from_before_the_window_is_no_answer_to_it(
    declined_on: date, expected: int
) -> None:
    operation = hook()
    decide(sore_before(operation), "declined", today=declined_on, reason="rubs little")
    at: dict[str, Any] = {"by": operation.recorded_by, "now": NOW}
    if declined_on < OPENS:
        assert hardware.raise_planned_removals(today=date(2026, 8, 27), **at) == 0
    assert hardware.raise_planned_removals(today=TODAY, **at) == expected
    assert hardware.raise_planned_removals(today=TODAY, **at) == 0
    asked = HardwareDecision.objects.filter(raised_because="planned_removal")
    assert asked.count() == expected


def test_what_was_asked_for_its_time_and_declined_is_not_asked_again() -> None:
    operation = hook()
    decide(raised(operation), "declined", reason="the patient is content")
    by = operation.recorded_by
    assert hardware.raise_planned_removals(by=by, now=NOW, today=date(2027, 3, 1)) == 0


def test_an_open_question_is_enough_and_a_voided_one_is_none() -> None:
    operation = hook()
    question = sore_before(operation)
    at: dict[str, Any] = {"by": operation.recorded_by, "now": NOW}
    assert hardware.raise_planned_removals(today=TODAY, **at) == 0
    voiding.void_row(row=question, reason="another patient's", expected_version=1, **at)
    assert hardware.raise_planned_removals(today=TODAY, **at) == 1


def test_a_construct_that_stays_in_raises_nothing() -> None:
    by = builders.procedure(performed_on=OPERATED).recorded_by
    assert hardware.raise_planned_removals(by=by, now=NOW, today=TODAY) == 0


def test_nobody_is_asked_about_a_patient_who_died() -> None:
    operation = hook()
    patients.change_status(
        patient=operation.injury.patient,
        status="died",
        on=date(2026, 7, 10),
        note="",
        expected_version=1,
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    by = operation.recorded_by
    assert hardware.raise_planned_removals(by=by, now=NOW, today=TODAY) == 0


def test_a_decision_keeps_its_day_and_its_reason() -> None:
    question = decide(
        raised(hook()), "deferred", deferred_until=date(2026, 12, 24), reason="not united"
    )
    assert question.decided_on == TODAY
    assert (question.deferred_until, question.reason) == (date(2026, 12, 24), "not united")


@pytest.mark.parametrize(
    ("state", "values", "field"),
    [
        ("deferred", {"reason": "not united"}, "deferred_until"),
        ("deferred", {"reason": "not united", "deferred_until": TODAY}, "deferred_until"),
        ("deferred", {"deferred_until": date(2026, 12, 24)}, "reason"),
        ("planned", {}, "wish_on"),
        ("planned", {"wish_on": date(2026, 11, 24)}, "wish_on"),
        ("declined", {}, "reason"),
        ("done", {}, "state"),
    ],
)
def test_a_decision_that_lacks_something_is_refused(
    state: str, values: dict[str, Any], field: str
) -> None:
    question = raised(hook())
    with pytest.raises(BadInput) as refused:
        decide(question, state, **values)
    assert set(refused.value.faults) == {field}
    question.refresh_from_db()
    assert question.state == "raised"


def test_what_was_declined_is_only_raised_again() -> None:
    question = decide(raised(hook()), "declined", reason="the patient is content")
    with pytest.raises(IllegalTransition, match="'declined' and cannot become 'planned'"):
        decide(question, "planned")
    assert decide(question, "raised").state == "raised"


def test_a_decision_over_a_newer_one_is_refused() -> None:
    question = raised(hook())
    seen = HardwareDecision.objects.get(pk=question.pk)
    decide(question, "discussed")
    with pytest.raises(StaleVersion):
        decide(seen, "planned", wish_on=WISH)


def test_the_removal_settles_the_question() -> None:
    operation = hook()
    question = raised(operation)
    removal = removal_of(operation)
    question.refresh_from_db()
    assert (question.state, question.removal) == ("done", removal)
    assert question.decided_on == date(2026, 9, 25)


def test_a_removal_after_a_refusal_is_its_answer_and_a_step() -> None:
    operation = hook()
    question = decide(raised(operation), "declined", today=OPENS, reason="content")
    removal = removal_of(operation)
    question.refresh_from_db()
    assert (question.state, question.removal) == ("done", removal)
    assert (question.decided_on, question.first_decided_on) == (date(2026, 9, 25), OPENS)
    assert kinds(question) == ["raised", "declined", "done"]


def test_of_a_refusal_and_an_open_question_the_removal_answers_the_open_one() -> None:
    operation = hook()
    refused = decide(sore_before(operation), "declined", today=date(2026, 8, 8), reason="content")
    question = noted(operation, "hurts at night")
    removal_of(operation)
    for row in (refused, question):
        row.refresh_from_db()
    assert (refused.state, question.state) == ("declined", "done")
    # A second operation on the same hardware finds nothing left to answer.
    hardware.settle_by_procedure(procedure=removal_of(operation), by=operation.recorded_by, now=NOW)
    refused.refresh_from_db()
    assert refused.state == "declined"


def test_a_refusal_whose_removal_is_voided_is_asked_again_and_waits_from_then() -> None:
    operation = hook()
    question = decide(raised(operation), "declined", today=OPENS, reason="content")
    removal = removal_of(operation)
    by = operation.recorded_by
    voiding.void_row(row=removal, reason="another's", expected_version=1, by=by, now=NOW)
    question.refresh_from_db()
    assert (question.state, question.removal, question.waiting_since) == ("raised", None, TODAY)
    assert question.first_decided_on == OPENS


def test_hardware_that_is_out_raises_no_question() -> None:
    operation = hook()
    removal_of(operation)
    asked = hardware.raise_question(
        procedure=operation, because="symptoms", by=operation.recorded_by, now=NOW, on=TODAY
    )
    assert asked is None


def test_voiding_the_removal_asks_the_question_again() -> None:
    operation = hook()
    question = raised(operation)
    removal = removal_of(operation)
    voiding.void_row(
        row=removal,
        reason="another patient's operation",
        expected_version=1,
        by=operation.recorded_by,
        now=NOW,
    )
    question.refresh_from_db()
    assert (question.state, question.removal, question.decided_on) == ("raised", None, None)
    assert question.raised_on == OPENS


def complained(operation: Procedure, complaint: str) -> HardwareDecision:
    return hardware.note_complaint(
        procedure=operation, complaint=complaint, by=operation.recorded_by, now=NOW, on=TODAY
    )


def test_a_complaint_raises_one_question_that_hears_of_the_next() -> None:
    operation = hook()
    first, second = complained(operation, "hurts at night"), complained(operation, "and by day")
    assert first == second == HardwareDecision.objects.get()
    assert (second.raised_because, second.reason) == ("symptoms", "and by day; hurts at night")


def test_of_a_long_history_the_newest_complaint_is_kept_whole() -> None:
    operation = hook()
    complained(operation, "old " * 75)
    assert complained(operation, "new " * 20).reason.startswith("new " * 20)
    assert len(HardwareDecision.objects.get().reason) <= 300


def test_a_complaint_about_hardware_that_is_out_is_refused() -> None:
    operation = hook()
    removal_of(operation)
    with pytest.raises(BadInput) as refused:
        complained(operation, "hurts")
    assert set(refused.value.faults) == {"hardware_symptoms"}


def test_a_decision_without_words_keeps_the_complaint() -> None:
    question = complained(hook(), "hurts at night")
    assert decide(question, "planned", wish_on=WISH).reason == "hurts at night"
    with pytest.raises(BadInput):
        decide(question, "declined")
    assert decide(question, "declined", reason="has got used to it").reason == "has got used to it"


def kinds(question: HardwareDecision) -> list[str]:
    return [step.kind for step in question.steps.all()]


def noted(operation: Procedure, words: str, source: str = "patient", **more: Any) -> Any:
    at = {"by": operation.recorded_by, "now": NOW, "on": TODAY}
    return hardware.note_symptoms(procedure=operation, source=source, words=words, **at, **more)


def test_every_step_is_kept_with_who_when_and_why() -> None:
    question = raised(hook())
    question = decide(question, "discussed", reason="wants to think")
    question = decide(question, "planned", wish_on=date(2027, 1, 15), reason="after the exams")
    question = decide(question, "deferred", deferred_until=date(2027, 3, 1), reason="a trip")
    steps = list(question.steps.all())
    assert kinds(question) == ["raised", "discussed", "planned", "deferred"]
    assert [step.on for step in steps] == [OPENS, TODAY, TODAY, TODAY]
    assert [step.words for step in steps] == ["", "wants to think", "after the exams", "a trip"]
    assert steps[2].wish_on == date(2027, 1, 15)
    assert steps[3].deferred_until == date(2027, 3, 1)
    assert {step.recorded_by for step in steps} == {question.recorded_by}


def test_the_first_answer_is_remembered_and_waiting_begins_with_each_decision() -> None:
    question = raised(hook())
    assert (question.waiting_since, question.first_decided_on) == (OPENS, None)
    question = decide(question, "discussed", reason="wants to think")
    assert (question.waiting_since, question.first_decided_on) == (TODAY, None)
    question = decide(question, "planned", wish_on=WISH)
    assert question.first_decided_on == TODAY


def test_a_removal_is_the_last_step_and_its_voiding_another() -> None:
    operation = hook()
    raised(operation)
    removal = removal_of(operation)
    question = HardwareDecision.objects.get()
    assert kinds(question) == ["raised", "done"]
    assert question.steps.last().words == "by the implant removal of 25 Sep 2026"
    assert question.first_decided_on == date(2026, 9, 25)
    voiding.void_row(
        row=removal,
        reason="another patient",
        expected_version=removal.version,
        by=removal.recorded_by,
        now=NOW,
    )
    question.refresh_from_db()
    assert kinds(question) == ["raised", "done", "asked_again"]
    assert (question.state, question.first_decided_on) == ("raised", None)


def test_a_deferred_question_comes_back_on_its_day_once() -> None:
    question = decide(raised(hook()), "deferred", deferred_until=date(2026, 12, 24), reason="exams")
    at = {"by": question.recorded_by, "now": NOW}
    assert hardware.bring_back_deferred(today=date(2026, 12, 23), **at) == 0
    assert hardware.bring_back_deferred(today=date(2026, 12, 26), **at) == 1
    assert hardware.bring_back_deferred(today=date(2026, 12, 26), **at) == 0
    question.refresh_from_db()
    assert (question.state, question.deferred_until) == ("raised", None)
    assert (question.waiting_since, question.reason) == (date(2026, 12, 24), "exams")
    assert kinds(question) == ["raised", "deferred", "came_back"]
    assert question.steps.last().words == "it was deferred until 24 Dec 2026"


def test_nothing_comes_back_for_a_patient_whose_follow_up_has_ended() -> None:
    operation = hook()
    decide(raised(operation), "deferred", deferred_until=date(2026, 12, 24), reason="exams")
    whose = operation.injury.patient
    patients.change_status(
        patient=whose,
        status="moved",
        on=TODAY,
        note="",
        expected_version=whose.version,
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    back = hardware.bring_back_deferred(by=operation.recorded_by, now=NOW, today=date(2026, 12, 26))
    assert back == 0


def test_a_patients_answer_raises_the_question_once() -> None:
    operation = builders.procedure()
    question = noted(operation, "The plate rubs")
    assert (question.raised_because, question.raised_on) == ("symptoms", TODAY)
    assert noted(operation, "the  plate rubs").pk == question.pk
    assert kinds(question) == ["raised"]
    assert HardwareDecision.objects.get().reason == "The plate rubs"


def test_a_new_answer_is_added_to_the_open_question() -> None:
    operation = builders.procedure()
    noted(operation, "rubs")
    question = noted(operation, "wakes me at night")
    assert question.reason == "wakes me at night; rubs"
    assert kinds(question) == ["raised", "told"]
    assert question.steps.last().source == "patient"


def test_a_new_answer_wakes_a_question_that_rests() -> None:
    question = decide(raised(hook()), "deferred", deferred_until=date(2027, 3, 1), reason="exams")
    woken = noted(question.procedure, "rubs")
    assert (woken.state, woken.deferred_until, woken.waiting_since) == ("raised", None, TODAY)


def test_declined_it_is_asked_again_for_something_new_alone() -> None:
    operation = builders.procedure()
    decide(noted(operation, "rubs"), "declined", reason="content")
    assert noted(operation, "rubs") is None
    assert HardwareDecision.objects.count() == 1
    assert noted(operation, "hurts at night").state == "raised"
    assert HardwareDecision.objects.count() == 2


def test_a_named_fact_is_one_however_it_is_worded() -> None:
    operation = builders.procedure()
    noted(operation, "rubs", fact="irritation")
    noted(operation, "it still rubs", fact="irritation")
    assert HardwareDecision.objects.get().steps.count() == 1


def test_a_second_fact_in_the_same_words_is_a_step_and_said_once() -> None:
    operation = builders.procedure()
    noted(operation, "rubs", fact="patient:1")
    question = noted(operation, "rubs", fact="patient:2")
    assert (kinds(question), question.reason) == (["raised", "told"], "rubs")


def test_an_answer_about_hardware_that_is_out_raises_nothing() -> None:
    operation = hook()
    removal = removal_of(operation)
    assert noted(operation, "rubs") is None
    assert noted(removal, "the scar rubs") is None
    assert not HardwareDecision.objects.exists()


def test_what_a_clinician_hears_again_counts_again() -> None:
    operation = builders.procedure()
    at = {"by": operation.recorded_by, "now": NOW, "on": TODAY}
    question = hardware.note_complaint(procedure=operation, complaint="rubs", **at)
    decide(question, "declined", reason="content")
    again = hardware.note_complaint(procedure=operation, complaint="rubs", **at)
    assert (again.state, HardwareDecision.objects.count()) == ("raised", 2)
