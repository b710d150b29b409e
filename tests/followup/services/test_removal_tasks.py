"""The coordinator hears of questions that nobody decides."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from followup.models import HardwareDecision, Review, Task
from followup.services import hardware, removal_tasks, tasks
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")

LONG_AGO = TODAY - timedelta(days=84)


def sore(on: date = LONG_AGO, construct: str = "LP") -> HardwareDecision:
    operation = builders.procedure(construct={"construct_type": construct})
    question = hardware.raise_question(
        procedure=operation,
        because="symptoms",
        by=operation.recorded_by,
        now=NOW,
        on=on,
        reason="rubs",
    )
    assert question is not None
    return question


def tell(question: HardwareDecision, today: date = TODAY) -> int:
    return removal_tasks.open_for_ignored(by=question.recorded_by, now=NOW, today=today)


def decide(question: HardwareDecision, state: str) -> None:
    question.refresh_from_db()
    hardware.decide(
        decision=question,
        state=state,
        values={"reason": "spoke with the patient"},
        expected_version=question.version,
        by=question.recorded_by,
        now=NOW,
        today=TODAY,
    )


@pytest.mark.parametrize(("days", "told"), [(83, 0), (84, 1)])
def test_hardware_that_has_hurt_for_twelve_weeks_becomes_a_task(days: int, told: int) -> None:
    question = sore(on=TODAY - timedelta(days=days))
    assert tell(question) == told
    assert Task.objects.count() == told


def test_the_task_says_what_waits_and_since_when_and_is_for_today() -> None:
    question = sore()
    tell(question)
    task = Task.objects.get()
    assert task.words == (
        "Removal of the locking plate alone, left shoulder: nobody has decided since 02 Sep 2026; ask "
        "the surgeon for a decision"
    )
    assert (task.kind, task.due_on) == ("other", TODAY)
    assert task.patient == question.procedure.injury.patient


def test_told_once_it_is_not_told_every_night() -> None:
    question = sore()
    tell(question)
    assert tell(question, TODAY + timedelta(days=1)) == 0
    task = Task.objects.get()
    tasks.close_task(task=task, note="asked", expected_version=1, by=question.recorded_by, now=NOW)
    assert tell(question, TODAY + timedelta(days=2)) == 0


def test_a_decision_closes_the_task_and_waiting_begins_anew() -> None:
    question = sore()
    tell(question)
    decide(question, "discussed")
    assert Task.objects.get().done_note == "Decided: discussed"
    assert tell(question, TODAY + timedelta(days=83)) == 0
    assert tell(question, TODAY + timedelta(days=84)) == 1


def test_what_stands_on_the_due_list_already_is_not_told_twice() -> None:
    question = sore(on=TODAY, construct="HP")
    assert tell(question) == 0
    Review.objects.filter(procedure=question.procedure).update(state="lapsed")
    assert tell(question) == 1


def test_what_was_told_of_before_costs_the_same_however_much_it_is(
    counted: Callable[[], Any],
) -> None:
    costs = []
    for more in (2, 6):
        for _ in range(more):
            question = sore()
        assert tell(question) == more
        with counted() as queries:
            assert tell(question) == 0
        costs.append(len(queries))
    assert costs[0] == costs[1]


@pytest.mark.parametrize("state", ["declined", "deferred"])
def test_an_answered_or_resting_question_is_no_task(state: str) -> None:
    question = sore()
    values = {"reason": "content", "deferred_until": TODAY + timedelta(days=30)}
    hardware.decide(
        decision=question,
        state=state,
        values=values,
        expected_version=1,
        by=question.recorded_by,
        now=NOW,
        today=TODAY,
    )
    assert tell(question) == 0
