"""The life of reviews as a state machine: whatever is done in whatever order, the rows stay what they may be.

A small model says what each act must do, written down here anew; after each act the database is held to it.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
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
from followup.models import Appointment, Review
from followup.services import completion, planning, reviews
from registry.errors import BadInput, HoldfastError, IllegalTransition, StaleVersion
from registry.models import AuditEntry, Patient, Procedure
from registry.services import enrolment, patients, voiding
from registry.services.invariants import Looking
from tests import builders, trailed

pytestmark = pytest.mark.usefixtures("defaults")
OPERATED = date(2026, 11, 9)
BEGINS = builders.TODAY
OPEN = {"planned", "booked", "missed"}
# What one act may make of a review; everything else is a fault.
MOVES = {
    ("planned", "booked"),
    ("missed", "booked"),
    ("booked", "planned"),
    ("booked", "missed"),
    *((old, "attended") for old in (*OPEN, "lapsed")),
    *((old, "lapsed") for old in OPEN),
    *((old, "not_needed") for old in (*OPEN, "lapsed")),
    ("not_needed", "planned"),
    ("lapsed", "planned"),
}
WHICH = st.integers(0, 30)


def steps(examples: int, acts: int) -> settings:
    return settings(
        max_examples=examples,
        stateful_step_count=acts,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )


class Lives(RuleBasedStateMachine):
    """One patient's reviews, from the operation on."""

    def __init__(self) -> None:
        super().__init__()
        self.block = transaction.atomic()
        self.block.__enter__()
        self.day = BEGINS
        self.states: dict[int, str] = {}

    def teardown(self) -> None:
        try:
            self.each_change_has_its_entry()
            assert trailed.holds()
            found = [
                b for one in chosen(["trail_rows"]) for b in one.breaches(Looking(now=self.now))
            ]
            assert found == []
        finally:
            transaction.set_rollback(True)
            self.block.__exit__(None, None, None)

    @initialize()
    def operated(self) -> None:
        hurt = builders.injury(injured_earliest=OPERATED, injured_latest=OPERATED)
        self.by = hurt.recorded_by
        self.clinic = builders.clinic(hurt.site)
        self.operations = [builders.procedure(hurt, performed_on=OPERATED)]
        self.learn()
        assert len(self.states) > 3
        assert set(self.states.values()) == {"planned"}

    # What is done

    @property
    def now(self) -> datetime:
        return datetime.combine(self.day, time(9), UTC)

    @property
    def at(self) -> dict[str, Any]:
        return {"by": self.by, "now": self.now}

    def one(self, which: int) -> Review:
        return Review.objects.get(pk=sorted(self.states)[which % len(self.states)])

    def learn(self) -> None:
        rows = Review.objects.values_list("pk", "state", "version")
        self.states = {pk: state for pk, state, _ in rows}
        self.versions = {pk: version for pk, _, version in rows}

    @contextmanager
    def refused(self, fault: type[HoldfastError]) -> Iterator[None]:
        before = self.rows()
        with pytest.raises(fault):
            yield
        assert self.rows() == before

    def rows(self) -> list[Any]:
        of_slots = Appointment.objects.order_by("pk").values_list("pk", "state", "version")
        return [*Review.objects.order_by("pk").values_list("pk", "state", "version"), *of_slots]

    def act(
        self, review: Review, allowed: set[str], becomes: str, do: Callable[[], object]
    ) -> None:
        """Do something to one review, which is refused in other states and changes no other review."""
        if self.states[review.pk] not in allowed:
            with self.refused(IllegalTransition):
                do()
            return
        do()
        expected = {**self.states, review.pk: becomes}
        self.learn()
        assert self.states == expected

    @rule(which=WHICH, weeks=st.integers(0, 3), slot=st.integers(0, 5))
    def book(self, which: int, weeks: int, slot: int) -> None:
        review = self.one(which)
        on = self.day + timedelta(days=(1 - self.day.weekday()) % 7, weeks=weeks)
        when = time(9, 10 * slot)

        def do() -> None:
            reviews.book(
                review=review,
                clinic=self.clinic,
                on=on,
                at=when,
                expected_version=review.version,
                today=self.day,
                **self.at,
            )

        if Appointment.objects.filter(on=on, at=when, state="booked").exists():
            with self.refused(BadInput):
                do()
            return
        self.act(review, OPEN, "booked", do)

    @rule(which=WHICH)
    def cancel(self, which: int) -> None:
        review = self.one(which)
        do = lambda: reviews.cancel(review=review, expected_version=review.version, **self.at)  # noqa: E731
        self.act(review, {"booked"}, "planned", do)

    @rule(which=WHICH)
    def miss(self, which: int) -> None:
        review = self.one(which)
        do = lambda: reviews.miss(review=review, expected_version=review.version, **self.at)  # noqa: E731
        slot = review.appointments.filter(state="booked").first()
        if slot is not None and slot.on > self.day:
            with self.refused(BadInput):
                do()
            return
        self.act(review, {"booked"}, "missed", do)

    @rule(which=WHICH)
    def attend(self, which: int) -> None:
        review = self.one(which)
        given: dict[str, Any] = {"expected_version": review.version, **self.at}
        allowed = {*OPEN, "lapsed", "attended"}
        do = lambda: completion.attend(review=review, on=self.day, **given)  # noqa: E731
        self.act(review, allowed, "attended", do)

    @rule(which=WHICH, reason=st.sampled_from(["seen elsewhere", " "]))
    def not_needed(self, which: int, reason: str) -> None:
        review = self.one(which)
        given: dict[str, Any] = {"expected_version": review.version, "reason": reason, **self.at}
        if not reason.strip():
            with self.refused(BadInput):
                reviews.mark_not_needed(review=review, **given)
            return
        do = lambda: reviews.mark_not_needed(review=review, **given)  # noqa: E731
        self.act(review, OPEN, "not_needed", do)

    @rule(which=WHICH)
    def somebody_was_quicker(self, which: int) -> None:
        review = self.one(which)
        given: dict[str, Any] = {"expected_version": review.version - 1, **self.at}
        if review.state in OPEN:
            with self.refused(StaleVersion):
                reviews.mark_not_needed(review=review, reason="not seen", **given)

    @rule(days=st.sampled_from([1, 7, 20, 45, 100]))
    def days_pass(self, days: int) -> None:
        self.day += timedelta(days=days)
        over = Review.objects.filter(state__in=OPEN, closes_on__lt=self.day)
        waits = Appointment.objects.filter(state="booked", on__gte=self.day).values("review")
        lapsing = set(over.exclude(pk__in=waits).values_list("pk", flat=True))
        assert reviews.lapse_closed(today=self.day, **self.at) == len(lapsing)
        expected = {pk: "lapsed" if pk in lapsing else state for pk, state in self.states.items()}
        self.learn()
        assert self.states == expected
        assert reviews.lapse_closed(today=self.day, **self.at) == 0

    # What changes a whole schedule: each review makes one of the moves, and the model learns which.

    def settled(self) -> None:
        before = self.states
        self.learn()
        for pk, state in self.states.items():
            old = before.get(pk, "planned")
            assert old == state or (old, state) in MOVES, f"{old} -> {state}"

    @rule()
    def planned_again(self) -> None:
        entries = AuditEntry.objects.count()
        for operation in self.operations:
            planning.plan_injury(procedure=operation, today=self.day, **self.at)
        kept = self.states
        self.learn()
        assert self.states == kept
        self.learn()
        again = AuditEntry.objects.count()
        for operation in self.operations:
            planning.plan_injury(procedure=operation, today=self.day, **self.at)
        assert AuditEntry.objects.count() == again >= entries

    def nothing_waits_among(self, keys: set[int]) -> None:
        """What was over before the ending lapses by itself; all else is closed by it."""
        waiting = Review.objects.filter(pk__in=keys, state__in=OPEN, closes_on__gte=self.day)
        assert not waiting.exists()

    def patient(self) -> Patient:
        return Patient.objects.get(pk=self.operations[0].injury.patient_id)

    @rule(status=st.sampled_from(["withdrawn", "moved", "died", "active", "active"]))
    def status(self, status: str) -> None:
        patient = self.patient()
        if patient.status == status or patient.status == "died":
            return
        patients.change_status(
            patient=patient,
            status=status,
            on=self.day,
            note="a letter",
            expected_version=patient.version,
            today=self.day,
            **self.at,
        )
        standing = {pk for pk, state in self.states.items() if state in {"attended"}}
        self.settled()
        assert all(self.states[pk] == "attended" for pk in standing)
        if status != "active":
            self.nothing_waits_among(set(self.states))

    @precondition(lambda self: len(self.operations) < 3)
    @rule()
    def revised(self) -> None:
        if self.patient().status != "active":
            return
        last = self.operations[-1]
        before = set(self.states)
        revision = enrolment.record_procedure(
            injury=last.injury,
            values={"kind": "revision_fixation", "performed_on": self.day, "revises": last},
            construct={"construct_type": builders.construct_type("LP")},
            today=self.day,
            **self.at,
        )
        self.operations.append(revision)
        self.settled()
        assert {self.states[pk] for pk in set(self.states) - before} == {"planned"}
        self.nothing_waits_among(before)

    @precondition(lambda self: len(self.operations) > 1)
    @rule()
    def revision_was_an_error(self) -> None:
        revision = Procedure.objects.get(pk=self.operations.pop().pk)
        given: dict[str, Any] = {"expected_version": revision.version, **self.at}
        voiding.void_row(row=revision, reason="another patient's operation", **given)
        self.settled()
        assert not Review.objects.filter(procedure=revision).exists()

    # What holds after each act

    @invariant()
    def rules_hold(self) -> None:
        names = ["review_states", "review_sums", "schedules", "slots"]
        assert [b for one in chosen(names) for b in one.breaches(Looking(now=self.now))] == []

    def each_change_has_its_entry(self) -> None:
        """A row has a version for each time that it was written, and the trail an entry for each."""
        for model in (Review, Appointment):
            written: dict[str, int] = {}
            entries = AuditEntry.objects.filter(table=model._meta.db_table)
            for key in entries.values_list("row_id", flat=True):
                written[key] = written.get(key, 0) + 1
            versions = model.everything.values_list("pk", "version")
            assert written == {str(pk): version for pk, version in versions}

    @invariant()
    def operations_follow_each_other(self) -> None:
        standing = list(Procedure.objects.order_by("pk").values_list("pk", "revises_id"))
        expected = [operation.pk for operation in self.operations]
        assert standing == list(zip(expected, [None, *expected[:-1]], strict=True))


def test_the_life_of_reviews() -> None:
    run_state_machine_as_test(Lives, settings=steps(examples=16, acts=35))
