"""Planning the reviews of an operation."""

from datetime import date

import pytest

from followup.models import ClosedDay, Review
from followup.services import planning, reviews
from registry.models import AuditEntry
from registry.services import patients, procedures, voiding
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_an_index_procedure_plans_every_step_of_the_protocol() -> None:
    operation = builders.procedure(performed_on=date(2026, 6, 5))
    dues = dict(Review.objects.values_list("step__code", "due_on"))
    assert dues["6w"] == date(2026, 7, 17)
    assert dues["12m"] == date(2027, 6, 5)
    assert len(dues) == 7
    assert operation.reviews.count() == 7


def test_planning_twice_changes_nothing() -> None:
    operation = builders.procedure()
    before = AuditEntry.objects.count()
    difference = planning.plan_reviews(
        procedure=operation, by=operation.recorded_by, now=NOW, today=TODAY
    )
    assert difference.is_empty
    assert AuditEntry.objects.count() == before


def test_correcting_the_date_moves_only_what_has_not_happened() -> None:
    operation = builders.procedure(performed_on=date(2026, 6, 5))
    happened = operation.reviews.get(step__code="2w")
    Review.objects.filter(pk=happened.pk).update(state="attended", attended_on=date(2026, 6, 19))
    procedures.correct_procedure(
        procedure=operation,
        values={"performed_on": date(2026, 6, 12)},
        expected_version=1,
        reason="typed wrongly",
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    assert operation.reviews.get(step__code="2w").due_on == date(2026, 6, 19)
    assert operation.reviews.get(step__code="6w").due_on == date(2026, 7, 24)


def test_death_closes_what_is_open_with_that_reason() -> None:
    operation = builders.procedure(performed_on=date(2026, 6, 5))
    patient = operation.injury.patient
    patients.change_status(
        patient=patient,
        status="died",
        on=date(2026, 7, 10),
        note="told by the family",
        expected_version=1,
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    states = dict(Review.objects.values_list("step__code", "ended_because"))
    assert states["6w"] == states["12m"] == "death"
    assert states["baseline"] == ""


def test_returning_opens_again_what_still_can_happen() -> None:
    operation = builders.procedure(performed_on=date(2026, 6, 5))
    patient = operation.injury.patient
    for version, status, on in ((1, "moved", date(2026, 7, 10)), (2, "active", None)):
        patients.change_status(
            patient=patient,
            status=status,
            on=on,
            note="",
            expected_version=version,
            by=operation.recorded_by,
            now=NOW,
            today=TODAY,
        )
    assert Review.objects.get(step__code="12m").state == "planned"
    assert Review.objects.get(step__code="6w").state == "not_needed"


def test_a_revision_starts_its_own_schedule_and_closes_the_old_one() -> None:
    operation = builders.procedure(performed_on=date(2026, 6, 5))
    revision = builders.procedure(
        of=operation.injury,
        kind="revision_fixation",
        revises=operation,
        performed_on=date(2026, 8, 3),
    )
    assert set(
        operation.reviews.filter(state="not_needed").values_list("ended_because", flat=True)
    ) == {"revision"}
    assert revision.reviews.count() == 7


def test_voiding_a_revision_opens_again_what_it_had_closed() -> None:
    operation = builders.procedure(performed_on=date(2026, 6, 5))
    revision = builders.procedure(
        of=operation.injury,
        kind="revision_fixation",
        revises=operation,
        performed_on=date(2026, 8, 3),
    )
    voiding.void_row(
        row=revision,
        reason="another patient's operation",
        expected_version=1,
        by=operation.recorded_by,
        now=NOW,
    )
    states = dict(operation.reviews.values_list("step__code", "state"))
    assert states["12m"] == states["24m"] == "planned"
    assert not Review.objects.filter(procedure=revision).exists()


def test_a_day_that_is_closed_afterwards_moves_the_proposed_day() -> None:
    operation = builders.procedure(performed_on=date(2026, 6, 5))
    review = operation.reviews.get(step__code="12m")
    ClosedDay.objects.create(site=operation.site, on=review.proposed_on, reason="moving house")
    planning.plan_reviews(procedure=operation, by=operation.recorded_by, now=NOW, today=TODAY)
    moved = operation.reviews.get(step__code="12m")
    assert moved.proposed_on != review.proposed_on
    assert moved.due_on == review.due_on


def test_a_hook_plate_follows_the_protocol_of_its_construct() -> None:
    operation = builders.procedure(construct={"construct_type": "HP"})
    protocols = set(operation.reviews.values_list("step__version__protocol__name", flat=True))
    assert protocols == {"After fixation with a hook plate"}


def test_a_death_that_was_an_error_leaves_no_review_closed_by_it() -> None:
    operation = builders.procedure(performed_on=date(2026, 6, 5))
    by = operation.recorded_by
    patient = operation.injury.patient
    for status, on in (("died", date(2026, 6, 6)), ("active", None)):
        patients.change_status(
            patient=patient,
            status=status,
            on=on,
            note="a letter",
            expected_version=patient.version,
            by=by,
            now=NOW,
            today=TODAY,
        )
    assert set(operation.reviews.values_list("state", flat=True)) == {"planned"}
    reviews.lapse_closed(by=by, now=NOW, today=TODAY)
    states = dict(operation.reviews.values_list("step__code", "state"))
    assert (states["6w"], states["12m"]) == ("lapsed", "planned")
