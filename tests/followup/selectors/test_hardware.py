"""Whose hardware needs a decision, and why."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from followup.models import HardwareDecision
from followup.rules.prompts import Loudness
from followup.selectors.hardware import (
    every_decision,
    history,
    line_of,
    lines,
    open_decisions,
    pain_of,
)
from followup.services import films, hardware, scores
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


def test_what_nobody_decides_rises_above_what_is_new(surgeon: Person) -> None:
    fresh = asked(builders.procedure(performed_on=OPERATED))
    waiting = asked(builders.procedure(performed_on=OPERATED), on=TODAY - timedelta(days=28))
    ignored = asked(builders.procedure(performed_on=OPERATED), on=TODAY - timedelta(days=84))
    young = asked(hook(performed_on=date(2026, 8, 21)), "planned_removal")
    assert list(open_decisions(surgeon, TODAY)) == [ignored, waiting, young, fresh]
    decided(ignored, "discussed")
    assert list(open_decisions(surgeon, TODAY)) == [waiting, young, fresh, ignored]


@pytest.mark.parametrize("operated", [OPERATED, date(2026, 8, 5), date(2026, 8, 4)])
@pytest.mark.parametrize("construct", ["HP", "LP"])
def test_the_database_gives_each_question_the_loudness_of_the_rule(
    surgeon: Person, construct: str, operated: date
) -> None:
    operation = builders.procedure(construct={"construct_type": construct}, performed_on=operated)
    row = asked(operation)
    changes: list[dict[str, Any]] = [
        {"state": state, **more}
        for state in ("raised", "discussed", "planned", "deferred")
        for more in _days_of(state)
    ]
    compared = 0
    for values in changes:
        for waited in (0, 27, 28, 83, 84):
            since = TODAY - timedelta(days=waited)
            HardwareDecision.objects.filter(pk=row.pk).update(
                **{**NO_DAYS, **values}, waiting_since=since
            )
            found = open_decisions(surgeon, TODAY, resting=True).get()
            assert found.loudness == line_of(found, TODAY).loudness, (values, waited)
            compared += 1
    assert compared == 40


NO_DAYS: dict[str, Any] = {"wish_on": None, "deferred_until": None, "reason": "why"}


def _days_of(state: str) -> list[dict[str, Any]]:
    """Return the days that a state can carry: before today, today, and after."""
    near = [TODAY + timedelta(days=days) for days in (-1, 0, 1)]
    if state == "planned":
        return [{}, *({"wish_on": day} for day in near[1:])]
    if state == "deferred":
        return [{"deferred_until": day} for day in near]
    return [{}]


def test_a_line_shows_the_pain_of_its_patient(surgeon: Person) -> None:
    operation = hook()
    asked(operation)
    at = {"by": operation.recorded_by, "now": NOW, "today": TODAY}
    for on, total in ((date(2026, 7, 17), 6.0), (date(2026, 9, 4), 2.0)):
        scores.record_score(
            injury=operation.injury, instrument="pain_nrs", taken_on=on, total=total, **at
        )
    (line,) = lines(list(open_decisions(surgeon, TODAY)), TODAY)
    assert line.pain_words == "pain 6 on 17 Jul 2026, then 2 on 04 Sep 2026"
    assert line.pain == pain_of(operation.injury_id)


def test_the_history_of_an_operation_holds_every_question_about_it(surgeon: Person) -> None:
    operation = hook()
    decided(asked(operation), "declined")
    asked(operation)
    kinds = [step.kind for step in history(operation)]
    assert kinds == ["raised", "declined", "raised"]


def test_an_erased_patient_is_on_no_list(surgeon: Person) -> None:
    operation = hook()
    asked(operation)
    operation.injury.patient.identity.delete()
    assert not open_decisions(surgeon, TODAY).exists()


def test_a_line_names_the_patient_and_says_why(surgeon: Person) -> None:
    operation = hook()
    asked(operation, "planned_removal")
    (line,) = lines(list(open_decisions(surgeon, TODAY)), TODAY)
    assert line.name == str(operation.injury.patient.identity)
    assert line.sentence == (
        "This construct is meant to come out; 24 weeks since surgery, 8 weeks past its time; "
        "no film judged for union yet."
    )
    assert line.loudness == Loudness.ACT


def test_what_is_out_is_told_as_on_the_day_it_came_out(surgeon: Person) -> None:
    operation = hook()
    asked(operation, "planned_removal")
    builders.procedure(
        operation.injury,
        kind="implant_removal",
        revises=operation,
        performed_on=date(2026, 10, 2),
    )
    line = line_of(every_decision(surgeon).get(), TODAY)
    assert "17 weeks since surgery, 1 week past its time" in line.sentence
    assert line.loudness == Loudness.RESTING


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
    assert "no film judged for union yet" in sentence(surgeon)


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
