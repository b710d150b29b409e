"""The life of the question whether hardware comes out, as a state machine over the services.

A small model says what each act must do, written down here anew; after each act the database is held to it.
"""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from config.verifying import chosen
from followup.models import HardwareDecision, HardwareStep
from followup.services import hardware
from registry.errors import BadInput, HoldfastError, IllegalTransition, StaleVersion
from registry.models import AuditEntry, Procedure
from registry.services import enrolment, voiding
from registry.services.invariants import Looking
from tests import builders, trailed
from tests.followup.services.test_review_lives import steps

pytestmark = pytest.mark.usefixtures("defaults")
OPERATED = date(2026, 10, 1)
# A hook plate's window of removal, as the shipped construct types have it.
OPENS = OPERATED + timedelta(weeks=12)
OPEN = {"raised", "discussed", "planned", "deferred"}
DECIDABLE = {"discussed", "planned", "deferred", "declined"}


class Lives(RuleBasedStateMachine):
    """One hook plate, from the operation on; `asked` has the state of each question in its order."""

    def __init__(self) -> None:
        super().__init__()
        self.block = transaction.atomic()
        self.block.__enter__()
        self.day = builders.TODAY
        self.asked: list[str] = []
        self.until: date | None = None
        # Whether it was asked for its time, and the day on which each question was decided.
        self.for_its_time = False
        self.decided: list[date | None] = []
        self.heard: set[str] = set()
        self.removal: Procedure | None = None

    def teardown(self) -> None:
        try:
            self.rules_hold()
            self.each_change_has_its_entry()
            assert trailed.holds()
            looking = Looking(now=self.now)
            assert [b for one in chosen(["trail_rows"]) for b in one.breaches(looking)] == []
        finally:
            transaction.set_rollback(True)
            self.block.__exit__(None, None, None)

    @initialize()
    def operated(self) -> None:
        hurt = builders.injury(injured_earliest=OPERATED, injured_latest=OPERATED)
        self.by = hurt.recorded_by
        hook = {"construct_type": "HP"}
        self.operation = builders.procedure(hurt, performed_on=OPERATED, construct=hook)
        self.complaint()

    @property
    def now(self) -> datetime:
        return datetime.combine(self.day, time(9), UTC)

    @property
    def at(self) -> dict[str, Any]:
        return {"by": self.by, "now": self.now}

    @property
    def is_open(self) -> bool:
        return bool(self.asked) and self.asked[-1] in OPEN

    def ask(self) -> None:
        self.asked.append("raised")
        self.decided.append(None)

    def wake(self) -> None:
        self.asked[-1], self.decided[-1], self.until = "raised", None, None

    def question(self) -> HardwareDecision:
        found: HardwareDecision = HardwareDecision.objects.latest("pk")
        return found

    def refused(self, fault: type[HoldfastError], do: Any) -> None:
        before = list(HardwareDecision.objects.values_list("pk", "state", "version"))
        with pytest.raises(fault):
            do()
        assert list(HardwareDecision.objects.values_list("pk", "state", "version")) == before

    # What is done

    @rule(days=st.sampled_from([1, 14, 40, 100]))
    def nights(self, days: int) -> None:
        """Time goes on, and the night's work asks what has come to its day, once."""
        self.day += timedelta(days=days)
        given: dict[str, Any] = {"today": self.day, **self.at}
        comes = self.is_open and self.asked[-1] == "deferred" and bool(self.until)
        back = int(comes and self.until is not None and self.until <= self.day)
        assert hardware.bring_back_deferred(**given) == back
        if back:
            self.wake()
        due = self.day >= OPENS and self.removal is None and not self.is_open
        answered = any(day is not None and day >= OPENS for day in self.decided)
        raised = int(due and not self.for_its_time and not answered)
        assert hardware.raise_planned_removals(**given) == raised
        if raised:
            self.ask()
            self.for_its_time = True
        assert hardware.bring_back_deferred(**given) == 0
        assert hardware.raise_planned_removals(**given) == 0

    @rule(words=st.sampled_from(["it rubs", "a screw is loose", "it aches at night"]))
    def symptoms(self, words: str) -> None:
        found = hardware.note_symptoms(
            procedure=self.operation, source="film", words=words, on=self.day, **self.at
        )
        if words in self.heard:
            assert (found is not None) == self.is_open
            return
        if self.removal is not None:
            assert found is None
            return
        self.heard.add(words)
        if not self.is_open:
            self.ask()
        elif self.asked[-1] == "deferred":
            self.wake()
        assert found is not None
        assert words in found.reason

    @rule()
    def complaint(self) -> None:
        def do() -> None:
            hardware.note_complaint(
                procedure=self.operation, complaint="it hurts", on=self.day, **self.at
            )

        if self.removal is not None:
            self.refused(BadInput, do)
            return
        do()
        if not self.is_open:
            self.ask()
        elif self.asked[-1] == "deferred":
            self.wake()

    @rule(state=st.sampled_from(sorted(DECIDABLE)), in_days=st.sampled_from([5, 60]))
    def decide_well(self, state: str, in_days: int) -> None:
        self.decide_so(state, in_days, "the patient thinks it over", stale=False)

    @rule(state=st.sampled_from(sorted(DECIDABLE)), in_days=st.sampled_from([5, 60]))
    def decide_well_again(self, state: str, in_days: int) -> None:
        self.decide_so(state, in_days, "the patient has thought it over", stale=False)

    @rule(
        state=st.sampled_from(["raised", "discussed", "planned", "deferred", "declined", "done"]),
        in_days=st.sampled_from([60, 5, 60, 5, None, -1]),
        reason=st.sampled_from(["the patient thinks it over"] * 3 + [""]),
        stale=st.integers(0, 9).map(lambda drawn: drawn == 9),
    )
    def decide(self, state: str, in_days: int | None, reason: str, stale: bool) -> None:
        self.decide_so(state, in_days, reason, stale=stale)

    def decide_so(self, state: str, in_days: int | None, reason: str, *, stale: bool) -> None:
        question, present = self.question(), self.asked[-1]
        wish = question.wish_on
        day = None if in_days is None else self.day + timedelta(days=in_days)
        values: dict[str, Any] = {"reason": reason}
        if day is not None:
            values["deferred_until"] = values["wish_on"] = day

        def do() -> None:
            hardware.decide(
                decision=question,
                state=state,
                values=values,
                expected_version=question.version - stale,
                today=self.day,
                **self.at,
            )

        may = (present in OPEN and state in DECIDABLE) or (
            state == "raised" and present in {"deferred", "declined"}
        )
        # A plan keeps the day that was wished before where no other is given.
        wished = day if day is not None else wish
        lacks = (
            (state in {"deferred", "declined"} and not reason)
            or (state == "deferred" and (day is None or day <= self.day))
            or (state == "planned" and (wished is None or wished < self.day))
        )
        if state == "done":
            self.refused(BadInput, do)
        elif not may:
            self.refused(IllegalTransition, do)
        elif lacks:
            self.refused(BadInput, do)
        elif stale:
            self.refused(StaleVersion, do)
        else:
            do()
            self.asked[-1] = state
            self.until = day if state == "deferred" else None
            self.decided[-1] = None if state == "raised" else self.day

    # After a removal little can be done, so that not every life comes to one early.
    @precondition(lambda self: self.removal is None)
    @rule(waits=st.sampled_from([True, True, False]))
    def removed(self, waits: bool) -> None:
        if waits:
            return
        self.removal = enrolment.record_procedure(
            injury=self.operation.injury,
            values={
                "kind": "implant_removal",
                "performed_on": self.day,
                "revises": self.operation,
            },
            today=self.day,
            **self.at,
        )
        # The open question, or the last refusal: the removal is its answer.
        if self.asked and self.asked[-1] in {*OPEN, "declined"}:
            self.asked[-1], self.decided[-1], self.until = "done", self.day, None

    @precondition(lambda self: self.removal is not None)
    @rule()
    def removal_was_an_error(self) -> None:
        removal = Procedure.objects.get(pk=self.removal.pk)
        self.removal = None
        given: dict[str, Any] = {"expected_version": removal.version, **self.at}
        voiding.void_row(row=removal, reason="another patient's operation", **given)
        if self.asked and self.asked[-1] == "done":
            self.wake()

    # What holds after each act

    @invariant()
    def the_rows_are_as_the_model_says(self) -> None:
        rows = list(HardwareDecision.objects.order_by("pk"))
        assert [row.state for row in rows] == self.asked
        assert sum(row.state in OPEN for row in rows) <= 1
        for row in rows:
            assert (row.state == "done") == (row.removal_id is not None)
            assert (row.state == "deferred") == (row.deferred_until is not None)
            # Every state was come to by a step, and the last steps of the question tell it.
            assert row.steps.exists()
        assert [row.removal_id for row in rows if row.state == "done"] in (
            [],
            [self.removal.pk if self.removal else None],
        )
        assert hardware.is_out(self.operation) == (self.removal is not None)

    def rules_hold(self) -> None:
        names = ["hardware_questions", "review_states", "review_sums", "schedules"]
        assert [b for one in chosen(names) for b in one.breaches(Looking(now=self.now))] == []

    def each_change_has_its_entry(self) -> None:
        for model in (HardwareDecision, HardwareStep):
            written: dict[str, int] = {}
            entries = AuditEntry.objects.filter(table=model._meta.db_table)
            for key in entries.values_list("row_id", flat=True):
                written[key] = written.get(key, 0) + 1
            versions = model.everything.values_list("pk", "version")
            assert written == {str(pk): version for pk, version in versions}


def test_the_life_of_a_question_about_hardware() -> None:
    run_state_machine_as_test(Lives, settings=steps(examples=20, acts=40))
