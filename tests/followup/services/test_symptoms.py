"""Hardware that makes trouble is recognised on films and in complications."""

from datetime import date
from typing import Any

import pytest

from followup.models import Complication, HardwareDecision
from followup.services import complications, films, hardware
from registry.models import Procedure
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")

DAY = date(2026, 9, 4)


def given(operation: Procedure) -> dict[str, Any]:
    return {"by": operation.recorded_by, "now": NOW, "today": TODAY}


def seen(operation: Procedure, found: str, on: date = DAY) -> None:
    film = films.record_film(
        injury=operation.injury, values={"taken_on": on, "view": "zanca"}, **given(operation)
    )
    reader = operation.recorded_by
    films.record_reading(film=film, values={"hardware": found}, reader=reader, **given(operation))


def suffered(operation: Procedure, kind: str, **values: Any) -> Complication:
    facts = {"kind": kind, "detected_on": DAY, **values}
    return complications.record_complication(procedure=operation, values=facts, **given(operation))


def removed(operation: Procedure) -> None:
    builders.procedure(
        operation.injury,
        kind="implant_removal",
        revises=operation,
        performed_on=date(2026, 8, 28),
    )


@pytest.mark.parametrize(
    ("found", "asked"),
    [
        ("loose", 1),
        ("broken", 1),
        ("migrated", 1),
        ("intact", 0),
        ("unknown", 0),
        ("not_applicable", 0),
    ],
)
def test_a_film_with_hardware_in_trouble_asks(found: str, asked: int) -> None:
    seen(builders.procedure(), found)
    assert HardwareDecision.objects.count() == asked


def test_the_question_says_which_film_and_since_when() -> None:
    operation = builders.procedure()
    seen(operation, "broken")
    question = HardwareDecision.objects.get()
    assert (question.raised_because, question.raised_on) == ("symptoms", DAY)
    assert question.reason == "hardware broken on the film of 04 Sep 2026"
    step = question.steps.get()
    assert (step.source, step.recorded_by) == ("film", operation.recorded_by)


def test_the_same_finding_on_a_later_film_is_no_new_one_and_another_is() -> None:
    operation = builders.procedure()
    seen(operation, "loose")
    seen(operation, "loose", on=date(2026, 10, 2))
    question = HardwareDecision.objects.get()
    assert question.steps.count() == 1
    seen(operation, "broken", on=date(2026, 10, 2))
    question.refresh_from_db()
    assert [step.kind for step in question.steps.all()] == ["raised", "told"]
    assert question.reason.startswith("hardware broken on the film of 02 Oct 2026; hardware loose")


def test_a_film_after_the_removal_asks_nothing() -> None:
    operation = builders.procedure()
    removed(operation)
    seen(operation, "broken")
    assert not HardwareDecision.objects.exists()


def test_a_film_asks_about_the_hardware_that_was_in_on_its_day() -> None:
    first = builders.procedure()
    second = builders.procedure(
        first.injury, kind="revision_fixation", revises=first, performed_on=date(2026, 8, 7)
    )
    seen(first, "loose")
    assert HardwareDecision.objects.get().procedure == second


@pytest.mark.parametrize(
    ("kind", "asked"),
    [
        ("hardware_irritation", 1),
        ("impingement", 1),
        ("subacromial_osteolysis", 1),
        ("implant_failure", 1),
        ("skin_breakdown", 1),
        ("infection_deep", 1),
        ("nerve", 0),
        ("stiffness", 0),
    ],
)
def test_a_complication_of_the_hardware_asks(kind: str, asked: int) -> None:
    suffered(builders.procedure(), kind)
    assert HardwareDecision.objects.filter(raised_because="complication").count() == asked


def test_one_that_has_ended_asks_nothing() -> None:
    suffered(builders.procedure(), "impingement", resolved_on=date(2026, 10, 2))
    assert not HardwareDecision.objects.exists()


def test_a_complication_of_hardware_that_is_out_asks_nothing() -> None:
    operation = builders.procedure()
    removed(operation)
    suffered(operation, "skin_breakdown")
    assert not HardwareDecision.objects.exists()


def test_a_correction_asks_only_when_the_kind_is_new() -> None:
    operation = builders.procedure()
    event = suffered(operation, "nerve")
    at = {"expected_version": 1, "reason": "seen again", **given(operation)}
    complications.correct_complication(
        complication=event, values={"kind": "hardware_irritation"}, **at
    )
    assert HardwareDecision.objects.get().steps.count() == 1
    at["expected_version"] = 2
    complications.correct_complication(complication=event, values={"grade": "II"}, **at)
    assert HardwareDecision.objects.get().steps.count() == 1


def test_what_was_declined_is_not_asked_again_for_the_same_finding() -> None:
    operation = builders.procedure()
    seen(operation, "loose")
    question = HardwareDecision.objects.get()
    hardware.decide(
        decision=question,
        state="declined",
        values={"reason": "no pain"},
        expected_version=1,
        **given(operation),
    )
    seen(operation, "loose", on=date(2026, 10, 2))
    assert HardwareDecision.objects.count() == 1
    suffered(operation, "hardware_irritation")
    assert sorted(HardwareDecision.objects.values_list("state", flat=True)) == [
        "declined",
        "raised",
    ]
