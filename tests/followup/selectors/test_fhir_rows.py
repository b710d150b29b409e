from datetime import date, timedelta
from typing import Any

import pytest

from followup.models import Film, Reading, WantedReading
from followup.selectors import fhir_rows
from followup.services import films, reviews, scores
from registry.models import Procedure
from registry.selectors.fhir_rows import reader, taker
from registry.services import injuries, records
from tests import builders
from tests.builders import NOW, TODAY
from tests.fhir_rows import lead, surgeon_sees

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=5)


@pytest.fixture
def operation(defaults: None) -> Procedure:
    return builders.procedure()


def read(operation: Procedure, by: Any, film: Film | None = None) -> Reading:
    at = {"by": operation.recorded_by, "now": NOW, "today": TODAY}
    taken = film or films.record_film(
        injury=operation.injury,
        values={"taken_on": date(2026, 7, 17), "view": "zanca", "calibration": "marker"},
        **at,
    )
    return films.record_reading(film=taken, values={"ccd_injured_mm": "9.4"}, reader=by, **at)


def test_a_film_reader_sees_films_and_own_readings_alone(operation: Procedure) -> None:
    fred, freda = (builders.person(name, north="film_reader") for name in ("fred", "freda"))
    own = read(operation, fred)
    other = read(operation, freda, own.film)
    seer = reader(fred)
    assert list(fhir_rows.readings(seer)) == [own]
    assert list(fhir_rows.films(seer)) == [own.film]
    assert not fhir_rows.scores(seer).exists()
    assert set(fhir_rows.readings(surgeon_sees())) == {own, other}


def test_who_has_taken_a_film_to_read_blind_does_not_see_what_others_read(
    operation: Procedure,
) -> None:
    selma = builders.person("selma", north="surgeon+quality_lead")
    theirs = read(operation, builders.person("fred", north="film_reader"))
    assert fhir_rows.readings(reader(selma)).exists()
    records.create(
        WantedReading(film=theirs.film, site=theirs.site, turn=2, because="all", reader=selma),
        by=operation.recorded_by,
        now=NOW,
    )
    assert not fhir_rows.readings(reader(selma)).exists()
    assert fhir_rows.readings(taker(selma)).exists()
    assert not fhir_rows.findings(reader(selma)).exists()


def test_superseded_readings_come_only_together_with_the_voided(operation: Procedure) -> None:
    fred = builders.person("fred", north="film_reader")
    old = read(operation, fred)
    new = read(operation, fred, old.film)
    assert list(fhir_rows.readings(surgeon_sees())) == [new]
    assert set(fhir_rows.readings(surgeon_sees(), voided=True)) == {old, new}


def test_a_corrected_injury_moves_all_that_hangs_on_it(operation: Procedure) -> None:
    read(operation, builders.person("fred", north="film_reader"))
    scores.record_score(
        injury=operation.injury,
        instrument="pain_nrs",
        taken_on=date(2026, 7, 17),
        total=3.0,
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    injuries.correct_injury(
        injury=operation.injury,
        values={"mechanism": "bicycle"},
        expected_version=1,
        reason="told",
        by=operation.recorded_by,
        now=LATER,
        today=TODAY,
    )
    for rows in (fhir_rows.films, fhir_rows.readings, fhir_rows.scores, fhir_rows.schedules):
        assert rows(surgeon_sees()).first().updated == LATER  # type: ignore[union-attr]


def test_slots_and_tasks_are_for_who_sees_patients(operation: Procedure) -> None:
    review = operation.reviews.filter(due_on__gt=TODAY).earliest("due_on")
    builders.booked(review)
    assert fhir_rows.appointments(surgeon_sees()).exists()
    assert not fhir_rows.appointments(reader(lead())).exists()
    assert not fhir_rows.tasks(reader(lead())).exists()
    assert fhir_rows.schedules(reader(lead())).exists()


def test_a_review_that_moved_moves_its_schedule(operation: Procedure) -> None:
    review = operation.reviews.earliest("due_on")
    assert operation.pk in {row["procedure_id"] for row in fhir_rows.with_open_reviews()}
    reviews.mark_not_needed(
        review=review,
        reason="moved away",
        expected_version=review.version,
        by=operation.recorded_by,
        now=LATER,
    )
    assert fhir_rows.schedules(surgeon_sees()).get().updated == LATER


def test_only_answers_item_by_item_are_a_form(operation: Procedure) -> None:
    scores.record_score(
        injury=operation.injury,
        instrument="quickdash",
        taken_on=date(2026, 7, 17),
        total=30.0,
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    assert fhir_rows.scores(surgeon_sees()).exists()
    assert not fhir_rows.itemised_scores(surgeon_sees()).exists()
    assert not fhir_rows.answered(surgeon_sees()).exists()
    assert not fhir_rows.not_obtained(surgeon_sees()).exists()
    assert not fhir_rows.complications(surgeon_sees()).exists()
    assert not fhir_rows.motion_exams(surgeon_sees()).exists()
