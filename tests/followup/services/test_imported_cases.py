"""Everything that a row tells arrives where it belongs."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError

from followup.models import Complication, Film, MotionExam, Reading, Review, Score
from followup.rules.case_columns.catalogue import COLUMNS
from followup.services import imported_cases, imports
from followup.services.import_plans import How
from registry.models import (
    Classification,
    Construct,
    ConstructDeparture,
    Injury,
    Patient,
    Procedure,
)
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.case_files import case, file_of

pytestmark = pytest.mark.usefixtures("defaults")

ENROLLED = {
    "local_id": "000417",
    "family_name": "Anders",
    "given_name": "Mila",
    "birth_date": "1986-04",
    "sex": "female",
    "phone": "0123 456",
    "injury_kind": "ac_joint",
    "injury_date": "2024-02",
    "side": "right",
    "mechanism": "bicycle",
    "energy": "high",
    "skin": "closed",
    "dominant_arm": "both",
    "other_shoulder": "uninjured",
    "neer": "IIB",
    "ao_ota": "15.3A",
    "rockwood": "IIIB",
    "smoking": "former",
    "diabetes": "no",
    "bmi": "23.4",
    "steroid_use": "no",
    "osteoporosis": "yes",
    "work_demand": "moderate",
    "sport_demand": "contact",
    "procedure_date": "2024-03-04",
    "surgeon": "selma",
    "operator_grade": "consultant",
    "assistant_grade": "trainee",
    "position": "beach_chair",
    "approach": "skin_lines",
    "provisional_fixation": "yes",
    "reduction_quality": "near",
    "intraoperative_film": "no",
    "duration_minutes": "85",
    "construct_type": "LP+A1",
    "plate_holes": "6",
    "lateral_screw_count": "5",
    "lateral_screw_diameter_mm": "2.3",
    "lateral_drill_mm": "2.0",
    "lateral_screws_locking": "yes",
    "shaft_screw_count": "4",
    "shaft_screw_diameter_mm": "3.5",
    "shaft_drill_mm": "2.8",
    "shaft_cortices": "8",
    "anchor_count": "1",
    "button_count": "0",
    "free_slots_count": "1",
    "retainer_count": "1",
    "suture_kind": "braided",
    "knot": "surgeons_knot",
    "half_hitch_count": "3",
    "graft": "none",
    "first_two_screws": "one_each_side",
    "guide_wire_clear": "yes",
    "shorter_screw_chosen": "not_between",
    "departure_reason": "small fragment",
    "film_view": "zanca",
    "film_posture": "upright",
    "film_weighted": "no",
    "film_calibration": "marker",
    "baseline_film_date": "2024-03-06",
    "baseline_view": "ap",
    "baseline_ccd_injured_mm": "9.1",
    "baseline_ccd_other_mm": "8.9",
    "baseline_ccd_ratio_pct": "not done",
}
DAYS = {
    "6w": "2024-04-15",
    "3m": "2024-06-03",
    "6m": "2024-09-04",
    "12m": "2025-03-04",
    "24m": "2026-03-04",
}
FOUND = {
    "view": "axillary",
    "ccd_injured_mm": "9.6",
    "ccd_other_mm": "8.9",
    "ccd_ratio_pct": "not done",
    "union": "united",
    "hardware": "intact",
    "flexion_deg": "110",
    "abduction_deg": "100",
    "external_rotation_deg": "45",
    "pain": "3",
    "quickdash": "38.6",
    "constant": "71",
}
EVENTS = {
    "complication_1_kind": "nerve",
    "complication_1_date": "2024-03-10",
    "complication_1_grade": "I",
    "complication_1_relation": "procedure",
    "complication_2_kind": "loss_of_fixation",
    "complication_2_date": "2024-09-20",
    "complication_2_grade": "III",
    "complication_2_relation": "construct",
    "complication_3_kind": "stiffness",
    "complication_3_date": "2025-06-01",
    "complication_3_grade": "II",
    "complication_3_relation": "neither",
    "revision_date": "2024-10-01",
    "revision_construct_type": "HP",
    "removal_date": "2025-02-10",
    "removal_planned": "no",
    "died_on": "2026-05-05",
}
FULL = {
    **ENROLLED,
    **{f"f{at}_date": day for at, day in DAYS.items()},
    **{f"f{at}_{name}": value for at in DAYS for name, value in FOUND.items()},
    **EVENTS,
}


def take(*rows: dict[str, str]) -> None:
    result = imports.import_cases(
        source=file_of(*rows),
        file_name="cases.csv",
        site=builders.site(),
        by=builders.person("connie", north="coordinator"),
        now=NOW,
        how=How(TODAY),
    )
    assert (result.faults, result.added) == ((), len(rows))


@pytest.fixture
def full(surgeon: Any) -> Procedure:
    take(FULL)
    return Procedure.objects.get(kind="fixation")


def test_the_full_row_fills_every_column_but_the_two_endings_that_exclude_each_other() -> None:
    assert {c.name for c in COLUMNS} - set(FULL) == {"withdrew_on", "moved_on"}


def test_who_the_patient_is_stays_apart_from_what_happened(full: Procedure) -> None:
    patient = full.injury.patient
    who = patient.identity
    assert (who.family_name, who.given_name, who.sex, who.phone) == (
        "Anders",
        "Mila",
        "female",
        "0123 456",
    )
    assert (who.birth_earliest, who.birth_latest) == (date(1986, 4, 1), date(1986, 4, 30))
    number = patient.identifiers.get()
    assert (number.issuing_system, number.value) == ("hospital number", "000417")
    assert (patient.status, patient.status_on) == ("died", date(2026, 5, 5))


def test_the_injury_carries_its_facts_and_classes(full: Procedure) -> None:
    injury = full.injury
    for name in [
        "side",
        "mechanism",
        "energy",
        "skin",
        "dominant_arm",
        "other_shoulder",
        "smoking",
        "diabetes",
        "steroid_use",
        "osteoporosis",
        "work_demand",
        "sport_demand",
    ]:
        assert getattr(injury, name) == ENROLLED[name]
    assert (injury.kind, injury.bmi_kg_m2, injury.age_years) == ("ac_joint", Decimal("23.4"), 37)
    assert (injury.injured_earliest, injury.injured_latest) == (
        date(2024, 2, 1),
        date(2024, 2, 29),
    )
    classes = dict(Classification.objects.values_list("system", "code"))
    assert classes == {"neer": "IIB", "ao_ota": "15.3A", "rockwood": "IIIB"}


def test_the_operation_and_its_construct_carry_their_facts(full: Procedure) -> None:
    for name in [
        "operator_grade",
        "assistant_grade",
        "position",
        "approach",
        "provisional_fixation",
        "reduction_quality",
        "intraoperative_film",
    ]:
        assert getattr(full, name) == ENROLLED[name]
    assert (full.duration_minutes, full.surgeon.username) == (85, "selma")
    construct = full.construct
    assert construct.construct_type.code == "LP+A1"
    names = [c.name for c in COLUMNS if c.group == "construct" and c.name != "construct_type"]
    assert {name: str(getattr(construct, name)) for name in names} == {
        name: ENROLLED[name] for name in names
    }


def test_departures_from_construct_checks_carry_the_reason_of_the_row(full: Procedure) -> None:
    departures = ConstructDeparture.objects.filter(construct=full.construct)
    assert {row.reason for row in departures} == {"small fragment"}
    assert len(departures) == 2


def test_films_and_readings_belong_to_a_reader_who_is_not_known(full: Procedure) -> None:
    films = list(Film.objects.filter(injury=full.injury))
    assert [(str(film.taken_on), film.view) for film in films] == [
        ("2024-03-06", "ap"),
        *((day, "axillary") for day in DAYS.values()),
    ]
    assert {(f.posture, f.weighted, f.calibration, f.shows_both_sides) for f in films} == {
        ("upright", "no", "marker", True)
    }
    readings = Reading.objects.select_related("reader")
    assert [row.ccd_injured_mm for row in readings] == [Decimal("9.1"), *[Decimal("9.6")] * 5]
    assert {row.ccd_other_mm for row in readings} == {Decimal("8.9")}
    assert {(row.union, row.hardware) for row in readings} == {
        ("unknown", "unknown"),
        ("united", "intact"),
    }
    assert {row.missing["ccd_side_ratio_pct"] for row in readings} == {"not_done"}
    assert {str(row.reader) for row in readings} == {"Reader not known"}
    assert not readings[0].reader.is_active


def test_motion_and_scores_carry_the_day_of_the_visit(full: Procedure) -> None:
    exams = MotionExam.objects.filter(injury=full.injury)
    assert [str(exam.examined_on) for exam in exams] == list(DAYS.values())
    assert {
        (e.side, e.mode, e.flexion_deg, e.abduction_deg, e.external_rotation_deg) for e in exams
    } == {("right", "active", 110, 100, 45)}
    scores = Score.objects.filter(injury=full.injury)
    assert {(s.instrument, float(s.value)) for s in scores} == {
        ("pain_nrs", 3.0),
        ("quickdash", 38.6),
        ("constant", 71.0),
    }
    assert scores.count() == 15


def test_a_score_says_whether_the_hardware_was_in_place(full: Procedure) -> None:
    in_place = dict(
        Score.objects.filter(instrument="constant").values_list("taken_on", "hardware_in_place")
    )
    assert list(in_place.values()) == ["yes", "yes", "yes", "no", "no"]


def test_unwanted_events_belong_to_the_operation_that_they_followed(full: Procedure) -> None:
    events = Complication.objects.select_related("procedure")
    assert [(e.kind, e.grade, e.relation, e.procedure.kind) for e in events] == [
        ("nerve", "I", "procedure", "fixation"),
        ("loss_of_fixation", "III", "construct", "fixation"),
        ("stiffness", "II", "neither", "revision_fixation"),
    ]


def test_a_removal_removes_what_the_revision_put_in(full: Procedure) -> None:
    revision = Procedure.objects.get(kind="revision_fixation")
    removal = Procedure.objects.get(kind="implant_removal")
    assert (revision.revises, removal.revises) == (full, revision)
    assert Construct.objects.get(procedure=revision).construct_type.code == "HP"
    assert not removal.planned_removal


def test_visits_complete_the_reviews_that_the_file_names(full: Procedure) -> None:
    reviews = Review.objects.filter(procedure=full)
    assert dict(reviews.values_list("step__code", "state")) == {
        "baseline": "attended",
        "2w": "lapsed",
        "6w": "attended",
        "3m": "attended",
        "6m": "attended",
        "12m": "not_needed",
        "24m": "not_needed",
    }
    after = Review.objects.filter(procedure__kind="revision_fixation", state="attended")
    assert [str(row.attended_on) for row in after] == ["2025-03-04"]


def test_a_visit_outside_its_window_is_kept_under_the_timepoint_of_the_file() -> None:
    take(case(f6w_date="2025-05-20", f6w_pain="2"))
    review = Review.objects.get(step__code="6w")
    assert (review.state, str(review.attended_on)) == ("attended", "2025-05-20")


def test_a_removal_is_planned_where_the_construct_type_has_it_so() -> None:
    take(
        case(1, construct_type="HP", removal_date="2025-07-01"),
        case(2, construct_type="LP", removal_date="2025-07-01"),
    )
    removals = Procedure.objects.filter(kind="implant_removal").order_by("id")
    assert [row.planned_removal for row in removals] == [True, False]


def test_what_is_missing_and_what_is_unlikely_is_kept_as_such() -> None:
    take(
        case(
            bmi="not done",
            duration_minutes="300",
            f6w_date="2025-03-20",
            f6w_pain="not done",
            f6w_quickdash="10",
        )
    )
    assert Injury.objects.get().missing == {"bmi_kg_m2": "not_done"}
    flags = Procedure.objects.get().flags
    assert [flag["field"] for flag in flags] == ["duration_minutes"]
    assert Review.objects.get(step__code="6w").not_obtainable == {"score:pain_nrs": "not done"}


def test_a_revision_on_the_day_of_a_removal_comes_after_it() -> None:
    take(case(removal_date="2025-06-01", revision_date="2025-06-01", revision_construct_type="HP"))
    later = Procedure.objects.exclude(kind="fixation").order_by("id")
    assert [row.kind for row in later] == ["implant_removal", "revision_fixation"]
    assert {row.revises.kind for row in later} == {"fixation"}
    assert Patient.objects.get().status == "active"


def test_what_the_database_refuses_is_told_without_the_values_of_the_row() -> None:
    told = "it breaks a rule\nDETAIL: Failing row contains (Quillfeather)."
    with pytest.raises(imported_cases.RowRefused) as refusal, imported_cases._blamed("procedure"):
        raise IntegrityError(told)
    assert refusal.value.reasons == [("", "this cannot be saved: it breaks a rule")]
