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


def hook(**values: Any) -> Procedure:
    return builders.procedure(construct={"construct_type": "HP"}, performed_on=OPERATED, **values)


def raised(operation: Procedure, on: date = OPENS) -> HardwareDecision:
    hardware.raise_planned_removals(by=operation.recorded_by, now=NOW, today=on)
    return HardwareDecision.objects.get(procedure=operation)


def decide(question: HardwareDecision, state: str, **values: Any) -> HardwareDecision:
    return hardware.decide(
        decision=question,
        state=state,
        values=values,
        expected_version=question.version,
        by=question.recorded_by,
        now=NOW,
        today=TODAY,
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
        decide(seen, "planned")


def test_the_removal_settles_the_question() -> None:
    operation = hook()
    question = raised(operation)
    removal = removal_of(operation)
    question.refresh_from_db()
    assert (question.state, question.removal) == ("done", removal)
    assert question.decided_on == date(2026, 9, 25)


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
    assert decide(question, "planned").reason == "hurts at night"
    with pytest.raises(BadInput):
        decide(question, "declined")
    assert decide(question, "declined", reason="has got used to it").reason == "has got used to it"
