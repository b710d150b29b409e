"""Each fact by itself; codes of LOINC, bodies after HL7 FHIR R4 (from memory)."""

from datetime import date
from functools import partial
from typing import Any

import pytest

from followup.exchange.fhir import observations
from followup.models import Film, ReadingFinding
from followup.selectors import fhir_rows
from followup.services import films, motion, scores
from registry.models import Procedure
from registry.services import records
from tests import builders
from tests.builders import NOW, TODAY
from tests.fhir import valid
from tests.fhir_rows import seen

pytestmark = pytest.mark.django_db
DAY = date(2026, 7, 17)


@pytest.fixture
def operation() -> Procedure:
    return builders.procedure()


def at(row: Any) -> dict[str, Any]:
    return {"by": row.recorded_by, "now": NOW, "today": TODAY}


def examined(operation: Procedure, **values: Any) -> Any:
    given = {"examined_on": DAY, "side": "left", "mode": "active", **values}
    row = motion.record_motion(injury=operation.injury, values=given, **at(operation))
    return seen(fhir_rows.motion_exams, row)


def read(operation: Procedure, film: dict[str, Any] | None = None, **values: Any) -> Any:
    about = {
        "taken_on": DAY,
        "view": "zanca",
        "calibration": "marker",
        "shows_both_sides": True,
        **(film or {}),
    }
    taken = films.record_film(injury=operation.injury, values=about, **at(operation))
    reader = builders.person("reader", north="film_reader")
    row = films.record_reading(film=taken, values=values, reader=reader, **at(operation))
    return seen(fhir_rows.readings, row)


def codes(made: dict[str, Any]) -> set[tuple[str, str]]:
    return {(one["system"], one["code"]) for one in made["code"]["coding"]}


def reason(element: dict[str, Any]) -> str:
    return str(element["dataAbsentReason"]["coding"][0]["code"])


def test_left_active_abduction_has_its_loinc_code_and_degrees(operation: Procedure) -> None:
    made = valid(observations.angle(examined(operation, abduction_deg=120), "abduction"))
    assert ("http://loinc.org", "41299-9") in codes(made)
    assert made["valueQuantity"] == {
        "value": 120.0,
        "unit": "deg",
        "system": "http://unitsofmeasure.org",
        "code": "deg",
    }
    assert made["bodySite"]["coding"][0]["code"] == "left"
    assert made["method"]["coding"][0]["code"] == "active"
    assert made["effectiveDateTime"] == "2026-07-17"


@pytest.mark.parametrize(
    ("side", "mode", "measure", "wanted"),
    [
        ("right", "active", "abduction", set()),
        ("left", "passive", "abduction", set()),
        ("left", "active", "flexion", set()),
        ("right", "active", "external-rotation", {"41387-2"}),
        ("left", "passive", "external-rotation", set()),
    ],
)
def test_no_neighbouring_loinc_code_is_guessed(
    operation: Procedure, side: str, mode: str, measure: str, wanted: set[str]
) -> None:
    row = examined(
        operation,
        side=side,
        mode=mode,
        abduction_deg=90,
        flexion_deg=90,
        external_rotation_deg=40,
    )
    made = valid(observations.angle(row, measure))
    found = {code for system, code in codes(made) if system == "http://loinc.org"}
    assert found == wanted
    assert ("https://registry.example/CodeSystem/measure", measure) in codes(made)


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        ("unknown", "unknown"),
        ("not_done", "not-performed"),
        ("not_applicable", "not-applicable"),
    ],
)
def test_each_kind_of_missing_is_its_own_reason(operation: Procedure, kind: str, code: str) -> None:
    row = examined(operation, missing={"flexion_deg": kind})
    made = valid(observations.angle(row, "flexion"))
    assert reason(made) == code
    assert "valueQuantity" not in made


def test_internal_rotation_is_a_landmark_and_no_angle(operation: Procedure) -> None:
    made = valid(observations.rotation(examined(operation, internal_rotation="t12")))
    assert made["valueCodeableConcept"]["coding"][0]["code"] == "t12"


def test_a_length_says_how_its_film_was_calibrated(operation: Procedure) -> None:
    row = read(operation, ccd_injured_mm="9.4", ccd_other_mm="8.1")
    injured = valid(observations.length(row, "ccd-injured", by_name=True))
    assert injured["valueQuantity"]["value"] == 9.4
    assert injured["method"]["coding"][0]["code"] == "marker"
    assert "numbers typed" in injured["method"]["text"]
    assert injured["derivedFrom"] == [{"reference": f"ImagingStudy/{row.film_id}"}]
    assert injured["performer"][0]["identifier"]["value"] == "reader"
    other = valid(observations.length(row, "ccd-other", by_name=False))
    assert other["bodySite"]["coding"][0]["code"] == "right"
    assert "performer" not in other


def test_an_uncalibrated_film_gives_a_ratio_in_per_cent(operation: Procedure) -> None:
    row = read(operation, {"calibration": "none"}, ccd_side_ratio_pct="57.1")
    made = valid(observations.length(row, "ccd-side-ratio", by_name=True))
    assert (made["valueQuantity"]["value"], made["valueQuantity"]["code"]) == (57.1, "%")
    assert made["method"]["coding"][0]["code"] == "none"


@pytest.mark.parametrize(
    ("measure", "values", "code"),
    [
        ("union", {"union": "unknown"}, "unknown"),
        ("union", {"union": "not_applicable"}, "not-applicable"),
        ("fracture-line", {"fracture_line": "not_done"}, "not-performed"),
        ("hardware", {"hardware": "unknown"}, "unknown"),
    ],
)
def test_what_cannot_be_judged_has_a_reason_and_no_value(
    operation: Procedure, measure: str, values: dict[str, str], code: str
) -> None:
    made = valid(observations.judgement(read(operation, **values), measure, by_name=True))
    assert reason(made) == code


def test_what_is_judged_has_its_code(operation: Procedure) -> None:
    made = valid(observations.judgement(read(operation, union="united"), "union", by_name=True))
    assert made["valueCodeableConcept"]["coding"][0]["code"] == "united"


def found(operation: Procedure, **values: Any) -> dict[str, Any]:
    reading = read(operation)
    row = records.create(
        ReadingFinding(reading=reading, site=reading.site, **values),
        by=operation.recorded_by,
        now=NOW,
    )
    return valid(observations.finding(seen(fhir_rows.findings, row), by_name=True))


def test_a_finding_is_there_with_grade_and_place(operation: Procedure) -> None:
    made = found(operation, kind="acromial_erosion", state="present", grade=2)
    assert made["valueCodeableConcept"]["coding"][0]["code"] == "present"
    assert made["component"] == [{"code": {"text": "grade"}, "valueInteger": 2}]
    made = found(builders.procedure(), kind="screw_broken", state="present", place="lateral")
    assert made["component"][0]["valueCodeableConcept"]["coding"][0]["code"] == "lateral"


@pytest.mark.parametrize(
    ("state", "code"), [("not_assessable", "unknown"), ("not_applicable", "not-applicable")]
)
def test_a_finding_that_cannot_be_judged_is_not_absent(
    operation: Procedure, state: str, code: str
) -> None:
    made = found(operation, kind="plate_broken", state=state)
    assert reason(made) == code
    assert "valueCodeableConcept" not in made


def scored(operation: Procedure, **given: Any) -> Any:
    row = scores.record_score(
        injury=operation.injury,
        taken_on=DAY,
        **{"instrument": "pain_nrs", **given},
        **at(operation),
    )
    return seen(fhir_rows.scores, row)


def test_pain_of_zero_is_a_value_with_its_loinc_code(operation: Procedure) -> None:
    made = valid(observations.score(scored(operation, total=0.0), by_name=True))
    assert made["valueQuantity"]["value"] == 0.0
    assert ("http://loinc.org", "72514-3") in codes(made)


def test_an_instrument_without_a_known_code_has_ours_with_its_edition(
    operation: Procedure,
) -> None:
    answers = dict.fromkeys(range(1, 12), 2.0)
    row = scored(operation, instrument="quickdash", items=answers)
    made = valid(observations.score(row, by_name=True))
    (ours,) = made["code"]["coding"]
    assert (ours["code"], ours["version"]) == ("quickdash", "2006")
    assert made["derivedFrom"] == [{"reference": f"QuestionnaireResponse/score-{row.pk}"}]


def test_an_instrument_without_a_total_says_why(operation: Procedure) -> None:
    row = scored(operation, instrument="quickdash", items={1: 2.0})
    made = valid(observations.score(row, by_name=True))
    assert reason(made) == "unknown"
    assert "of 11" in made["dataAbsentReason"]["text"]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ("declined", "asked-declined"),
        ("Refused by the patient", "asked-declined"),
        ("not done", "not-performed"),
        ("n/a", "not-applicable"),
        ("the machine broke", "unknown"),
    ],
)
def test_a_reason_in_words_is_coded_only_where_it_says_so(words: str, code: str) -> None:
    assert observations.reason_code(words) == code


def test_what_a_review_could_not_have_is_told_item_by_item(defaults: None) -> None:
    operation = builders.procedure()
    review = operation.reviews.order_by("due_on").first()
    assert review is not None
    why = {"score:pain_nrs": "declined", "motion": "not done", "film:zanca": "lost"}
    records.save(
        review,
        {"not_obtainable": why},
        by=operation.recorded_by,
        now=NOW,
        expected_version=review.version,
    )
    row = seen(fhir_rows.not_obtained, review)
    made = valid(observations.not_obtained(row, by_name=True))
    film, moved, pain = made["component"]
    assert (reason(pain), pain["code"]["coding"][0]["code"]) == ("asked-declined", "72514-3")
    assert (reason(moved), reason(film)) == ("not-performed", "unknown")
    assert film["dataAbsentReason"]["text"] == "lost"
    without = observations.not_obtained(row, by_name=False)
    assert "text" not in without["component"][0]["dataAbsentReason"]


def test_a_superseded_reading_was_entered_in_error_and_the_new_one_corrects(
    operation: Procedure,
) -> None:
    row = read(operation, ccd_injured_mm="9.4")
    newer = films.record_reading(
        film=Film.objects.get(pk=row.film_id),
        values={"ccd_injured_mm": "9.9"},
        reader=row.reader,
        **at(operation),
    )
    write = partial(observations.length, part="ccd-injured", by_name=True)
    old = valid(write(seen(fhir_rows.readings, row, voided=True)))
    new = valid(write(seen(fhir_rows.readings, newer)))
    assert (old["status"], new["status"]) == ("entered-in-error", "corrected")
