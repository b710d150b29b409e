from datetime import date, time
from typing import Any

import pytest

from followup.exchange.fhir import events
from followup.models import Film, Review, Task
from followup.selectors import fhir_rows
from followup.services import complications, films, reviews, tasks
from registry.exchange.fhir import terms
from registry.models import Procedure
from registry.rules.fhir.elements import absent_here
from registry.services import implants, patients, records
from tests import builders
from tests.builders import NOW, TODAY
from tests.fhir import valid
from tests.fhir_rows import seen

pytestmark = pytest.mark.django_db


@pytest.fixture
def operation(defaults: None) -> Procedure:
    return builders.procedure()


def harm(operation: Procedure, **values: Any) -> dict[str, Any]:
    row = complications.record_complication(
        procedure=operation,
        values={
            "kind": "infection_superficial",
            "detected_on": date(2026, 7, 1),
            "grade": "II",
            **values,
        },
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    return valid(events.adverse_event(seen(fhir_rows.complications, row), by_name=True))


def test_a_harm_is_actual_graded_and_dated(operation: Procedure) -> None:
    may = {"onset_earliest": date(2026, 6, 1), "onset_latest": date(2026, 6, 30)}
    made = harm(operation, **may, action="antibiotics")
    assert made["actuality"] == "actual"
    assert made["event"]["text"] == "Superficial infection"
    assert (made["date"], made["detected"]) == ("2026-06", "2026-07-01")
    assert made["seriousness"]["coding"][0]["code"] == "II"
    assert "suspectEntity" not in made
    said = {one["url"].rsplit("/", 1)[1]: one for one in made["extension"]}
    assert said["action"]["valueString"] == "antibiotics"


def test_an_onset_that_no_date_can_say_keeps_its_bounds(operation: Procedure) -> None:
    week = {"onset_earliest": date(2026, 6, 20), "onset_latest": date(2026, 6, 26)}
    made = harm(operation, **week)
    assert "date" not in made
    assert made["_date"]["extension"][0]["valuePeriod"] == {
        "start": "2026-06-20",
        "end": "2026-06-26",
    }


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"resolved_on": date(2026, 8, 1)}, "resolved"),
        ({"resolved_on": date(2026, 8, 1), "grade": "IVb"}, "resolvedWithSequelae"),
        ({"grade": "V"}, "fatal"),
    ],
)
def test_how_a_harm_ended_is_coded(operation: Procedure, values: dict[str, Any], code: str) -> None:
    assert harm(operation, **values)["outcome"]["coding"][0]["code"] == code


def test_what_nobody_said_of_a_harm_is_not_known(operation: Procedure) -> None:
    made = harm(operation, grade="unknown", relation="unknown")
    assert made["outcome"]["coding"][0]["code"] == "unknown"
    assert made["seriousness"] == absent_here("unknown")
    relation = {"url": terms.extension("relation"), **absent_here("unknown")}
    assert relation in made["extension"]
    assert harm(operation, kind="nerve")["outcome"]["coding"][0]["code"] == "unknown"


def test_a_harm_of_the_construct_suspects_its_parts(operation: Procedure) -> None:
    made = harm(operation, relation="construct")
    assert made["suspectEntity"] == [{"instance": {"reference": f"Procedure/{operation.pk}"}}]
    part = implants.add_part(
        construct=operation.construct,
        given=implants.PartGiven("plate", "plate"),
        by=operation.recorded_by,
        now=NOW,
    )
    made = harm(operation, relation="construct", kind="implant_failure")
    assert made["suspectEntity"] == [{"instance": {"reference": f"Device/{part.pk}"}}]
    made = harm(operation, relation="procedure", kind="nerve")
    assert made["suspectEntity"] == [{"instance": {"reference": f"Procedure/{operation.pk}"}}]


def test_a_slot_is_in_the_sites_own_time(operation: Procedure) -> None:
    review = Review.objects.filter(procedure=operation, due_on__gt=TODAY).earliest("due_on")
    row = builders.booked(review, date(2026, 12, 1), time(9))
    made = valid(events.appointment(seen(fhir_rows.appointments, row), by_name=True))
    assert (made["start"], made["end"]) == (
        "2026-12-01T09:00:00+00:00",
        "2026-12-01T09:10:00+00:00",
    )
    assert made["status"] == "booked"
    shown = seen(fhir_rows.appointments, row)
    shown.on = date(2026, 7, 1)
    assert events.appointment(shown, by_name=True)["start"] == "2026-07-01T09:00:00+01:00"


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [("booked", "booked"), ("kept", "fulfilled"), ("missed", "noshow"), ("cancelled", "cancelled")],
)
def test_each_state_of_a_slot_has_its_status(operation: Procedure, ours: str, theirs: str) -> None:
    review = Review.objects.filter(procedure=operation, due_on__gt=TODAY).earliest("due_on")
    row = seen(fhir_rows.appointments, builders.booked(review))
    row.state = ours
    assert valid(events.appointment(row, by_name=True))["status"] == theirs


def test_a_task_is_ready_until_it_is_done(operation: Procedure) -> None:
    by, whose = operation.recorded_by, operation.injury.patient
    opened = tasks.open_task(
        site=operation.site,
        patient=whose,
        kind="contact",
        words="Ring Ada.",
        due_on=TODAY,
        key="k",
        by=by,
        now=NOW,
    )
    made = valid(events.task(seen(fhir_rows.tasks, opened), by_name=True))
    assert (made["status"], made["description"]) == ("ready", "Ring Ada.")
    assert made["restriction"]["period"]["end"] == "2026-11-25"
    assert "description" not in events.task(seen(fhir_rows.tasks, opened), by_name=False)
    Task.objects.update(done_at=NOW, done_note="rung")
    made = valid(events.task(seen(fhir_rows.tasks, opened), by_name=True))
    assert (made["status"], made["statusReason"]) == ("completed", {"text": "rung"})


def test_a_schedule_has_each_review_with_its_window_and_state(operation: Procedure) -> None:
    shown = seen(fhir_rows.schedules, operation)
    made = valid(events.care_plan(shown, by_name=True))
    assert made["status"] == "active"
    first = made["activity"][0]["detail"]
    review = operation.reviews.order_by("due_on").first()
    assert review is not None
    assert first["scheduledPeriod"] == {
        "start": review.opens_on.isoformat(),
        "end": review.closes_on.isoformat(),
    }
    assert first["status"] == "not-started"
    assert len(made["activity"]) == operation.reviews.count()


def test_what_a_death_closed_is_cancelled_with_its_reason(operation: Procedure) -> None:
    whose = operation.injury.patient
    patients.change_status(
        patient=whose,
        status="died",
        on=TODAY,
        note="told",
        expected_version=1,
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    reviews.lapse_closed(by=operation.recorded_by, now=NOW, today=TODAY)
    made = valid(events.care_plan(seen(fhir_rows.schedules, operation), by_name=True))
    assert made["status"] == "completed"
    details = [one["detail"] for one in made["activity"]]
    assert {one["status"] for one in details} == {"cancelled", "stopped"}
    assert details[-1]["statusReason"]["coding"][1]["code"] == "death"


def test_every_state_of_a_review_has_a_status() -> None:
    assert set(events.ACTIVITY) == set(dict(Review._meta.get_field("state").choices))


def test_a_film_says_view_posture_and_that_its_weights_are_unknown(operation: Procedure) -> None:
    row = films.record_film(
        injury=operation.injury,
        values={"taken_on": date(2026, 7, 17), "view": "zanca", "posture": "upright"},
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    made = valid(events.imaging_study(seen(fhir_rows.films, row), by_name=True))
    said = {one["url"].rsplit("/", 1)[1]: one for one in made["extension"]}
    assert said["view"]["valueCoding"]["code"] == "zanca"
    assert said["weighted"]["extension"][0]["valueCode"] == "unknown"
    assert made["started"] == "2026-07-17"
    records.void(
        Film.objects.get(),
        by=operation.recorded_by,
        now=NOW,
        expected_version=1,
        reason="other person",
    )
    gone = events.imaging_study(seen(fhir_rows.films, row, voided=True), by_name=True)
    assert valid(gone)["status"] == "entered-in-error"
