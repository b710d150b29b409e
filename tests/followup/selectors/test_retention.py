"""Of whom nothing was heard for longer than the rule says: whatever was heard takes one off the list."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from followup.models import Appointment, ContactAttempt, HardwareDecision, Reply
from followup.selectors import retention
from followup.services import complications, hardware, motion
from registry.models import Injury, Patient, PatientSite, Person
from registry.services import retention as rules
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("defaults")]
LONG_AGO = NOW - timedelta(days=366 * 12)
THEN = date(2014, 6, 5)


def long_ago(code: str = "north") -> Patient:
    """Return a patient who was enrolled twelve years ago."""
    patient = builders.patient(builders.site(code))
    Patient.objects.filter(pk=patient.pk).update(recorded_at=LONG_AGO)
    return patient


def ruled(code: str = "north", keep: int = 10) -> None:
    site = builders.site(code)
    rules.set_rule(
        site=site,
        kind="patients",
        keep=keep,
        least=None,
        basis="our policy",
        expected_version=0,
        by=builders.person(f"ada_{code}", **{code: "administrator"}),
        now=NOW,
    )


@pytest.fixture
def surgeon() -> Person:
    return builders.person("sam", north="surgeon")


def listed(by: Person) -> set[Patient]:
    found: set[Patient] = set()
    for one in retention.sites_past(by, TODAY):
        found |= set(retention.past_their_time(by, one, TODAY))
    return found


def hurt_then(patient: Patient) -> Injury:
    hurt = builders.injury(patient, injured_earliest=THEN, injured_latest=THEN)
    Injury.objects.filter(pk=hurt.pk).update(recorded_at=LONG_AGO)
    return hurt


def operated(patient: Patient) -> Any:
    return builders.procedure(hurt_then(patient), {"construct_type": "LP"}, performed_on=THEN)


def heard_of(patient: Patient) -> None:
    by = patient.recorded_by
    ContactAttempt.objects.create(
        patient=patient,
        site=patient.site,
        tried_at=NOW - timedelta(days=400),
        means="phone",
        outcome="reached",
        recorded_at=NOW,
        recorded_by=by,
        changed_at=NOW,
        changed_by=by,
    )


def wrote(patient: Patient) -> None:
    Reply.objects.create(
        site=patient.site,
        key="1",
        means="text",
        sender="1",
        text="x",
        received_at=NOW - timedelta(days=3000),
        taken_at=NOW,
    ).patients.add(patient)


def came(patient: Patient) -> None:
    day = TODAY - timedelta(days=900)
    builders.procedure(hurt_then(patient), {"construct_type": "LP"}, performed_on=day)


SINCE = TODAY - timedelta(days=900)


def examined(patient: Patient) -> None:
    values = {"examined_on": SINCE, "side": "left", "mode": "active", "flexion_deg": 120}
    by = patient.recorded_by
    motion.record_motion(injury=hurt_then(patient), values=values, by=by, now=NOW, today=TODAY)


def harmed(patient: Patient) -> None:
    complications.record_complication(
        procedure=operated(patient),
        values={"kind": "stiffness", "detected_on": SINCE},
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )


def was_decided(patient: Patient) -> None:
    hardware.raise_question(
        procedure=operated(patient),
        because="symptoms",
        on=SINCE,
        by=patient.recorded_by,
        now=NOW,
    )
    HardwareDecision.objects.update(decided_on=SINCE)


def had_a_slot(patient: Patient) -> None:
    review = operated(patient).reviews.first()
    builders.booked(review)
    Appointment.objects.update(on=SINCE)


def test_without_a_rule_nobody_is_proposed(surgeon: Person) -> None:
    long_ago()
    assert retention.sites_past(surgeon, TODAY) == []


def test_of_whom_nothing_was_heard_is_listed_and_who_was_enrolled_since_is_not(
    surgeon: Person,
) -> None:
    ruled()
    silent = long_ago()
    hurt_then(silent)
    builders.patient()
    assert listed(surgeon) == {silent}


@pytest.mark.parametrize(
    "heard", [builders.injury, heard_of, wrote, came, examined, harmed, was_decided, had_a_slot]
)
def test_whatever_was_heard_since_takes_a_patient_off(
    surgeon: Person, heard: Callable[[Patient], Any]
) -> None:
    ruled()
    heard(long_ago())
    assert listed(surgeon) == set()


def test_who_was_operated_long_ago_and_has_no_review_ahead_is_listed(surgeon: Person) -> None:
    ruled()
    silent = long_ago()
    operated(silent)
    assert listed(surgeon) == {silent}


def test_who_is_kept_erased_or_merged_is_not_listed(surgeon: Person) -> None:
    ruled()
    kept, nameless = long_ago(), long_ago()
    rules.hold(
        patient=kept, site=kept.site, until=None, reason="x", by=surgeon, now=NOW, today=TODAY
    )
    nameless.identity.delete()
    assert listed(surgeon) == set()
    assert [one.patient for one in retention.holds(surgeon, TODAY)] == [kept]
    assert retention.hold_on(kept, TODAY) is not None
    assert retention.hold_on(nameless, TODAY) is None


def test_who_is_at_another_site_too_is_listed_where_that_one_is_kept_longest() -> None:
    ruled("north", 10)
    both = builders.person("both", north="surgeon", south="surgeon")
    alone = builders.person("alone", north="surgeon")
    patient = long_ago()
    PatientSite.objects.create(patient=patient, site=builders.site("south"))
    assert listed(both) == set(), "the south has no rule"
    ruled("south", 11)
    assert listed(alone) == set(), "somebody else decides in the south"
    by_site = {
        one.site.code: set(retention.past_their_time(both, one, TODAY))
        for one in retention.sites_past(both, TODAY)
    }
    assert by_site == {"north": set(), "south": {patient}}
    assert retention.decides_for(alone, patient) == {builders.site("south").pk}


def test_another_sites_patients_are_not_shown(surgeon: Person) -> None:
    ruled()
    ruled("south")
    long_ago("south")
    assert listed(surgeon) == set()


def test_the_list_costs_the_same_for_few_and_many(surgeon: Person, counted: Any) -> None:
    ruled()
    costs = []
    for more in (2, 20):
        for _ in range(more):
            long_ago()
        (one,) = retention.sites_past(surgeon, TODAY)
        with counted() as queries:
            page = retention.page_of(retention.past_their_time(surgeon, one, TODAY), "1")
            list(page)
        costs.append(len(queries))
    assert costs[0] == costs[1]
