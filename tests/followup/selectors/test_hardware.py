"""Whose hardware needs a decision, and why."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from followup.models import HardwareDecision
from followup.rules.prompts import Loudness
from followup.selectors.hardware import line_of, lines, open_decisions
from followup.services import films, hardware
from registry.models import Person, Procedure
from registry.services import patients
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")

OPERATED = date(2026, 6, 5)


def asked(operation: Procedure, because: str = "symptoms", on: date = TODAY) -> HardwareDecision:
    question = hardware.raise_question(
        procedure=operation,
        because=because,
        by=operation.recorded_by,
        now=NOW,
        on=on,
        reason="hurts at night",
    )
    assert question is not None
    return question


def hook(**values: Any) -> Procedure:
    facts = {"performed_on": OPERATED, **values}
    return builders.procedure(construct={"construct_type": "HP"}, **facts)


def decided(question: HardwareDecision, state: str, **values: Any) -> None:
    hardware.decide(
        decision=question,
        state=state,
        values={"reason": "the patient's wish", **values},
        expected_version=question.version,
        by=question.recorded_by,
        now=NOW,
        today=TODAY,
    )


def judged(operation: Procedure, on: date, union: str) -> None:
    at = {"by": operation.recorded_by, "now": NOW, "today": TODAY}
    values = {"taken_on": on, "view": "zanca"}
    film = films.record_film(injury=operation.injury, values=values, **at)
    films.record_reading(film=film, values={"union": union}, reader=operation.recorded_by, **at)


def sentence(user: Person, today: date = TODAY) -> str:
    return line_of(open_decisions(user, today).get(), today).sentence


def test_constructs_that_are_meant_to_come_out_stand_first_the_longest_in_place_before(
    surgeon: Person,
) -> None:
    plate = asked(builders.procedure(performed_on=OPERATED))
    younger = asked(hook(performed_on=date(2026, 7, 5)), "planned_removal")
    older = asked(hook(), "planned_removal")
    assert list(open_decisions(surgeon, TODAY)) == [older, younger, plate]


def test_a_line_names_the_patient_and_says_why(surgeon: Person) -> None:
    operation = hook()
    asked(operation, "planned_removal")
    (line,) = lines(list(open_decisions(surgeon, TODAY)), TODAY)
    assert line.name == str(operation.injury.patient.identity)
    assert line.sentence == (
        "This construct is meant to come out; 24 weeks since surgery, 8 weeks past its time; "
        "no film says whether it united."
    )
    assert line.loudness == Loudness.ACT


def test_a_complaint_grows_louder_with_waiting(surgeon: Person) -> None:
    asked(builders.procedure(performed_on=OPERATED), on=date(2026, 10, 28))
    row = open_decisions(surgeon, TODAY).get()
    loud = [line_of(row, day).loudness for day in (date(2026, 10, 29), TODAY, date(2027, 1, 20))]
    assert loud == [Loudness.NOTICE, Loudness.ASK, Loudness.ACT]


def test_the_last_film_that_judges_union_is_the_one_that_counts(surgeon: Person) -> None:
    operation = hook()
    asked(operation, "planned_removal")
    judged(operation, date(2026, 7, 17), "partial")
    assert "union not confirmed (last judged on 17 Jul 2026)" in sentence(surgeon)
    judged(operation, date(2026, 9, 4), "united")
    judged(operation, date(2026, 10, 2), "unknown")
    assert "union confirmed on the film of 04 Sep 2026" in sentence(surgeon)


def test_a_superseded_judgement_does_not_count(surgeon: Person) -> None:
    operation = hook()
    asked(operation, "planned_removal")
    judged(operation, date(2026, 9, 4), "united")
    film = operation.injury.films.get()
    films.record_reading(
        film=film,
        values={"union": "unknown"},
        reader=operation.recorded_by,
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    assert "no film says whether it united" in sentence(surgeon)


@pytest.mark.parametrize(
    ("today", "shown"), [(date(2026, 12, 23), False), (date(2026, 12, 24), True)]
)
def test_a_deferred_question_rests_until_its_day(
    surgeon: Person, today: date, *, shown: bool
) -> None:
    decided(asked(hook()), "deferred", deferred_until=date(2026, 12, 24))
    assert open_decisions(surgeon, today).exists() is shown
    assert open_decisions(surgeon, today, resting=True).exists()


@pytest.mark.parametrize(("state", "shown"), [("discussed", True), ("declined", False)])
def test_a_question_is_open_until_it_is_answered(
    surgeon: Person, state: str, *, shown: bool
) -> None:
    decided(asked(hook()), state)
    assert open_decisions(surgeon, TODAY, resting=True).exists() is shown


def test_a_removal_takes_the_question_from_the_list(surgeon: Person) -> None:
    operation = hook()
    asked(operation)
    builders.procedure(
        operation.injury,
        kind="implant_removal",
        revises=operation,
        performed_on=date(2026, 9, 25),
    )
    assert not open_decisions(surgeon, TODAY, resting=True).exists()


def test_nobody_is_asked_about_whose_follow_up_has_ended(surgeon: Person) -> None:
    operation = hook()
    asked(operation)
    patient = operation.injury.patient
    patients.change_status(
        patient=patient,
        status="withdrawn",
        on=TODAY,
        note="",
        expected_version=patient.version,
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    assert not open_decisions(surgeon, TODAY, resting=True).exists()


def test_another_site_is_asked_nothing(outsider: Person) -> None:
    asked(hook())
    assert not open_decisions(outsider, TODAY, resting=True).exists()


def test_the_queries_do_not_grow_with_the_list(surgeon: Person, counted: Callable[[], Any]) -> None:
    numbers = []
    for more in (1, 4):
        for _ in range(more):
            operation = hook()
            asked(operation)
            judged(operation, date(2026, 9, 4), "united")
        afresh = Person.objects.get(pk=surgeon.pk)
        with counted() as queries:
            found = lines(list(open_decisions(afresh, TODAY)), TODAY)
        numbers.append((len(found), len(queries)))
    assert [number for number, _ in numbers] == [1, 5]
    assert numbers[0][1] == numbers[1][1]
