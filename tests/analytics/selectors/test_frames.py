from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pandas as pd
import pytest

from analytics.selectors import frames
from followup.models import Complication, Film, Reading
from followup.services import films
from registry.models import Construct, Person, Procedure
from registry.services import patients, voiding
from registry.services.enrolment import ConsentGiven
from tests import builders
from tests.analytics import cohort
from tests.analytics.records import OPERATED, complication, held, operation, reading
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def only(frame: pd.DataFrame) -> dict[str, Any]:
    (row,) = frame.to_dict("records")
    return {
        name: None if value is pd.NaT or value is pd.NA else value for name, value in row.items()
    }


def test_a_case_carries_its_facts_and_no_name() -> None:
    done = operation(construct="HP", injury={"other_shoulder": "injured_before"})
    case = only(frames.build(None, TODAY).cases)
    assert case["site"] == "north"
    assert case["construct_type"] == "HP"
    assert case["planned_removal"] is True
    assert case["performed_on"] == pd.Timestamp(OPERATED)
    assert case["patient_key"] == done.injury.patient.key
    assert case["other_shoulder"] == "injured_before"
    assert (case["neer"], case["rockwood"]) == ("IIB", None) or pd.isna(case["rockwood"])
    assert case["patient_status"] == "active"
    assert set(case) >= set(cohort.CASE) - {"last_seen_on"}


def test_frames_have_the_columns_and_types_that_endpoints_are_tested_with() -> None:
    held()
    complication(operation(), 30)
    given, tested = (
        frames.build(None, TODAY),
        cohort.data(films=[cohort.film(2, 9.0)], harms=[cohort.harm(30)]),
    )
    for name in ("cases", "readings", "complications"):
        mine, theirs = getattr(given, name), getattr(tested, name)
        assert set(theirs.columns) <= set(mine.columns), name
        days = [column for column in theirs if str(theirs[column].dtype).startswith("datetime")]
        assert (mine[days].dtypes == theirs[days].dtypes).all()
    lengths = list(cohort.LENGTHS)
    assert set(given.readings[lengths].dtypes.astype(str)) == {"float64"}
    assert given.readings["calibrated"].dtype == bool


def test_the_first_revision_and_removal_are_dated() -> None:
    done = operation()
    for kind, day in (("revision_fixation", 100), ("implant_removal", 200), ("washout", 20)):
        builders.procedure(
            done.injury,
            None if kind != "revision_fixation" else {"construct_type": "HP"},
            kind=kind,
            revises=done,
            performed_on=OPERATED + timedelta(days=day),
        )
    built = frames.build(None, TODAY)
    case = only(built.cases)
    assert case["revised_on"] == pd.Timestamp(OPERATED + timedelta(days=100))
    assert case["removed_on"] == pd.Timestamp(OPERATED + timedelta(days=200))
    assert case["construct_type"] == "LP"
    assert built.reoperations["kind"].tolist() == [
        "washout",
        "revision_fixation",
        "implant_removal",
    ]
    assert set(built.reoperations["index_id"]) == {done.pk}


def test_an_operation_without_a_recorded_construct_stays_in_the_denominator() -> None:
    done = operation()
    Construct.objects.filter(procedure=done).delete()
    case = only(frames.build(None, TODAY).cases)
    assert pd.isna(case["construct_type"])
    assert case["planned_removal"] is False


def test_the_last_day_seen_is_that_of_the_last_film() -> None:
    done = held()
    case = only(frames.build(None, TODAY).cases)
    assert case["last_seen_on"] == pd.Timestamp(done.performed_on + timedelta(days=365))


def test_a_reading_without_calibration_says_so() -> None:
    done = operation()
    reading(done, 2, None, ccd_side_ratio_pct="12.5", film={"calibration": "none"})
    row = only(frames.build(None, TODAY).readings)
    assert row["calibrated"] is False
    assert row["ccd_side_ratio_pct"] == 12.5
    assert row["procedure_id"] == done.pk
    assert (row["view"], row["position"]) == ("zanca", "upright")


def test_a_superseded_reading_and_a_voided_row_leave_the_frames() -> None:
    done = operation()
    first = reading(done, 2, "9.0")
    by = done.recorded_by
    films.record_reading(
        film=first.film,
        values={"ccd_injured_mm": "9.6"},
        reader=by,
        by=by,
        now=NOW,
        today=TODAY,
    )
    assert only(frames.build(None, TODAY).readings)["ccd_injured_mm"] == 9.6
    voiding.void_row(row=done, reason="entered twice", expected_version=1, by=by, now=NOW)
    built = frames.build(None, TODAY)
    assert built.cases.empty
    assert built.readings.empty


def test_what_happened_after_the_cut_off_is_not_known_at_it() -> None:
    done = held()
    complication(done, 100)
    patients.change_status(
        patient=done.injury.patient,
        status="moved",
        note="to another town",
        on=OPERATED + timedelta(days=200),
        expected_version=done.injury.patient.version,
        by=done.recorded_by,
        now=NOW,
        today=TODAY,
    )
    early = frames.build(None, OPERATED + timedelta(days=50))
    assert only(early.cases)["patient_status"] == "active"
    assert only(early.cases)["status_on"] is None
    assert len(early.readings) == 1
    assert early.complications.empty
    late = frames.build(None, TODAY)
    assert only(late.cases)["patient_status"] == "moved"
    assert len(late.readings) == 2
    assert frames.build(None, OPERATED - timedelta(days=1)).cases.empty


def test_a_complication_after_a_later_operation_belongs_to_the_index_procedure() -> None:
    done = operation()
    removal = builders.procedure(
        done.injury,
        None,
        kind="implant_removal",
        revises=done,
        performed_on=OPERATED + timedelta(days=120),
    )
    began = date(2025, 10, 10)
    complication(removal, 10, "infection_superficial", onset_earliest=began, onset_latest=began)
    row = only(frames.build(None, TODAY).complications)
    assert row["procedure_id"] == done.pk
    assert row["onset_on"] == pd.Timestamp(2025, 10, 10)


def decide(of: Procedure, decision: str, on: date) -> None:
    patients.add_consent(
        patient=of.injury.patient,
        site=of.site,
        given=ConsentGiven("registry", decision, on, "told in clinic"),
        by=of.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_who_opted_out_is_in_no_figure_and_is_counted() -> None:
    stays, goes, back = operation(), operation(), operation("south")
    decide(goes, "given", OPERATED)
    decide(goes, "opted_out", TODAY)
    decide(back, "opted_out", OPERATED)
    decide(back, "given", TODAY)
    assert frames.build(None, TODAY).cases.index.tolist() == [stays.pk, back.pk]
    assert frames.opted_out(TODAY) == {"north": 1}
    assert frames.opted_out(OPERATED - timedelta(days=1)) == {}


def recorded(rows: Any, day: int) -> None:
    moment = datetime.combine(OPERATED + timedelta(days=day), time(12), tzinfo=UTC)
    rows.update(recorded_at=moment, changed_at=moment)


def test_of_who_opted_out_from_a_day_on_what_was_recorded_by_then_stays_in_figures() -> None:
    done = operation()
    by_then = [reading(done, 2, "9.0"), reading(done, 60, "9.2")]
    reading(done, 50, "15.0")  # Written down after the day.
    for day in (150, 300):
        reading(done, day, "16.0")
        complication(done, day)
    complication(done, 30)
    recorded(Reading.objects.filter(pk__in=[one.pk for one in by_then]), 60)
    recorded(Film.objects.filter(readings__in=by_then), 60)
    recorded(Complication.objects.filter(detected_on=OPERATED + timedelta(days=30)), 40)
    recorded(Procedure.objects.all(), 0)
    later = builders.procedure(
        builders.injury(done.injury.patient, side="right"), performed_on=date(2026, 9, 1)
    )
    recorded(Procedure.objects.filter(pk=later.pk), 500)
    until = OPERATED + timedelta(days=100)
    decide(done, "from_now_on", until)

    built = frames.build(None, TODAY)
    case = only(built.cases)
    assert case["patient_status"] == "withdrawn"
    assert case["status_on"] == pd.Timestamp(until)
    assert "counts_until" not in built.cases
    assert built.readings["reading_id"].tolist() == [one.pk for one in by_then]
    assert only(built.complications)["detected_on"] == pd.Timestamp(OPERATED + timedelta(days=30))
    assert set(built.reviews["way"]) <= {"done_in_window", "missed", "lapsed", "withdrawal"}
    assert (
        built.reviews.loc[built.reviews["closes_on"] >= pd.Timestamp(until), "way"]
        .eq("withdrawal")
        .all()
    )
    assert case["last_seen_on"] == pd.Timestamp(OPERATED + timedelta(days=60))
    assert frames.opted_out(TODAY) == {}
    early = only(frames.build(None, OPERATED + timedelta(days=70)).cases)
    assert early["patient_status"] == "active"
    # Their own case is judged on everything: that is care.
    assert len(frames.of_cases([done.pk], TODAY).readings) == 5

    decide(done, "given", TODAY)
    assert len(frames.build(None, TODAY).readings) == 5


def test_sites_can_be_asked_for_alone() -> None:
    operation("north")
    south = operation("south")
    cases = frames.build([south.site_id], TODAY).cases
    assert cases["site"].tolist() == ["south"]


def test_frames_cost_the_same_queries_for_one_and_for_many(counted: Any) -> None:
    held()
    with counted() as few:
        frames.build(None, TODAY)
    for _ in range(6):
        complication(held(), 30)
    with counted() as many:
        frames.build(None, TODAY)
    assert len(few) == len(many) == 14


def test_no_identity_table_is_read(counted: Any, coordinator: Person) -> None:
    held()
    with counted() as queries:
        frames.build(None, TODAY)
    for query in queries:
        for table in ("registry_identity", "registry_identifier"):
            assert table not in query["sql"]
