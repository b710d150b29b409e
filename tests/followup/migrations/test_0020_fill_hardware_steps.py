"""Decisions that were there before their steps were kept."""

import importlib
from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest

from followup.models import HardwareDecision, HardwareStep
from followup.services import hardware
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")

fill = importlib.import_module("followup.migrations.0020_fill_hardware_steps").fill


class OldDecisions:
    """The decisions as they were before they knew since when they wait."""

    @property
    def objects(self) -> "OldDecisions":
        return self

    def filter(self, *, waiting_since__isnull: bool) -> Any:
        assert waiting_since__isnull
        return HardwareDecision.everything.all()


def refill() -> None:
    """Forget the steps, and what was derived from them, and fill them as for old rows."""
    HardwareStep.everything.all().delete()
    HardwareDecision.objects.update(waiting_since=date(2000, 1, 1), first_decided_on=None)
    models = {
        "HardwareDecision": OldDecisions(),
        "HardwareStep": SimpleNamespace(objects=HardwareStep.everything),
    }
    fill(SimpleNamespace(get_model=lambda app, name: models[name]), None)


def asked() -> HardwareDecision:
    operation = builders.procedure()
    question = hardware.raise_question(
        procedure=operation,
        because="symptoms",
        by=operation.recorded_by,
        now=NOW,
        on=date(2026, 10, 1),
        reason="rubs",
    )
    assert question is not None
    return question


def steps_of(question: HardwareDecision) -> list[tuple[str, date, str]]:
    return list(question.steps.values_list("kind", "on", "words"))


def test_an_open_question_waits_since_it_was_raised() -> None:
    question = asked()
    refill()
    question.refresh_from_db()
    assert (question.waiting_since, question.first_decided_on) == (date(2026, 10, 1), None)
    assert steps_of(question) == [("raised", date(2026, 10, 1), "rubs")]


def test_an_answered_one_has_its_answer_as_the_last_step() -> None:
    question = asked()
    hardware.decide(
        decision=question,
        state="declined",
        values={"reason": "content"},
        expected_version=1,
        by=question.recorded_by,
        now=NOW,
        today=TODAY,
    )
    refill()
    question.refresh_from_db()
    assert (question.waiting_since, question.first_decided_on) == (TODAY, TODAY)
    assert steps_of(question) == [
        ("raised", date(2026, 10, 1), ""),
        ("declined", TODAY, "content"),
    ]
