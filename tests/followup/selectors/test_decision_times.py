"""The times of removal questions as the rows give them."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from followup.models import HardwareDecision
from followup.rules.decision_times import Times
from followup.selectors.decision_times import ALL, by_construct_type
from followup.services import hardware
from registry.models import Person
from registry.services import patients
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")

RAISED = date(2026, 9, 2)


def asked(construct: str = "LP", site: str = "north") -> HardwareDecision:
    whose = builders.patient(builders.site(site))
    operation = builders.procedure(builders.injury(whose), construct={"construct_type": construct})
    question = hardware.raise_question(
        procedure=operation,
        because="symptoms",
        by=operation.recorded_by,
        now=NOW,
        on=RAISED,
    )
    assert question is not None
    return question


def decided(question: HardwareDecision, state: str, after: int) -> HardwareDecision:
    today = RAISED + timedelta(days=after)
    return hardware.decide(
        decision=question,
        state=state,
        values={
            "reason": "talked",
            "deferred_until": today + timedelta(days=300),
            "wish_on": today + timedelta(days=30),
        },
        expected_version=question.version,
        by=question.recorded_by,
        now=NOW,
        today=today,
    )


def removed(question: HardwareDecision, after: int) -> None:
    builders.procedure(
        question.procedure.injury,
        kind="implant_removal",
        revises=question.procedure,
        performed_on=RAISED + timedelta(days=after),
    )


def counts(found: Times) -> tuple[int, int, int, int, int]:
    return found.raised, found.answered, found.otherwise, found.open, found.left


def of_all(user: Person) -> tuple[Times, Times]:
    first = by_construct_type(user, TODAY)[0]
    assert first.name == ALL
    return first.to_decision, first.to_removal


def test_nothing_raised_is_nothing_to_show(surgeon: Person) -> None:
    assert by_construct_type(surgeon, TODAY) == []


def test_discussed_and_deferred_are_open_and_the_rest_is_answered(surgeon: Person) -> None:
    asked()
    decided(asked(), "discussed", 5)
    decided(asked(), "deferred", 6)
    decided(asked(), "declined", 7)
    removed(decided(asked(), "planned", 10), 40)
    to_decision, to_removal = of_all(surgeon)
    assert counts(to_decision) == (5, 2, 0, 3, 0)
    assert counts(to_removal) == (5, 1, 1, 3, 0)
    # declined after 7 days and planned after 10: two of five, a quarter is reached on the second
    assert to_decision.quartiles == (10, None, None)
    # asked on 2 September, today is 25 November
    assert to_decision.longest_open == 84


def test_a_removal_without_a_plan_answers_both(surgeon: Person) -> None:
    removed(asked(), 30)
    to_decision, to_removal = of_all(surgeon)
    assert counts(to_decision) == counts(to_removal) == (1, 1, 0, 0, 0)
    assert to_decision.quartiles == to_removal.quartiles == (30, 30, 30)


def test_a_refusal_that_came_out_later_counts_as_removed(surgeon: Person) -> None:
    removed(decided(asked(), "declined", 7), 40)
    to_decision, to_removal = of_all(surgeon)
    assert counts(to_decision) == counts(to_removal) == (1, 1, 0, 0, 0)
    assert (to_decision.quartiles[1], to_removal.quartiles[1]) == (7, 40)


def test_the_first_answer_counts_when_it_is_asked_again(surgeon: Person) -> None:
    question = decided(asked(), "declined", 7)
    decided(question, "raised", 20)
    to_decision, to_removal = of_all(surgeon)
    assert counts(to_decision) == (1, 1, 0, 0, 0)
    assert to_decision.quartiles[1] == 7
    assert counts(to_removal) == (1, 0, 0, 1, 0)


def test_a_question_ends_with_the_follow_up_of_its_patient(surgeon: Person) -> None:
    question = asked()
    whose = question.procedure.injury.patient
    patients.change_status(
        patient=whose,
        status="withdrawn",
        on=RAISED + timedelta(days=12),
        note="",
        expected_version=whose.version,
        by=question.recorded_by,
        now=NOW,
        today=TODAY,
    )
    assert [counts(found) for found in of_all(surgeon)] == [(1, 0, 0, 0, 1)] * 2


def test_types_stand_under_all_of_them_and_another_sites_nowhere(surgeon: Person) -> None:
    asked()
    asked("HP")
    asked("HP", site="south")
    rows = by_construct_type(surgeon, TODAY)
    assert [(row.code, row.to_decision.raised) for row in rows] == [
        ("", 2),
        ("HP", 1),
        ("LP", 1),
    ]


def test_the_queries_do_not_grow_with_the_questions(
    surgeon: Person, counted: Callable[[], Any]
) -> None:
    costs = []
    for more in (1, 6):
        for _ in range(more):
            asked()
        afresh = Person.objects.get(pk=surgeon.pk)
        with counted() as queries:
            by_construct_type(afresh, TODAY)
        costs.append(len(queries))
    assert costs[0] == costs[1]
