"""What falls in the follow-up with a row of the registry."""

from datetime import date

import pytest

from followup.models import Complication, Film, MotionExam, Review, Score
from followup.services import complications, films, motion, scores, voiding
from registry.models import Procedure
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def followed() -> Procedure:
    """Return an operation with a film, a motion exam, a score and a complication."""
    operation = builders.procedure()
    given = {"by": operation.recorded_by, "now": NOW, "today": TODAY}
    hurt, day = operation.injury, date(2026, 7, 17)
    films.record_film(injury=hurt, values={"taken_on": day, "view": "ap"}, **given)
    motion.record_motion(
        injury=hurt,
        values={"examined_on": day, "side": "left", "mode": "active", "flexion_deg": 120},
        **given,
    )
    scores.record_score(injury=hurt, instrument="sane", taken_on=day, total=80, **given)
    complications.record_complication(
        procedure=operation,
        values={"kind": "stiffness", "detected_on": day},
        **given,
    )
    return operation


def test_with_an_operation_fall_its_reviews_and_complications_but_no_film() -> None:
    operation = followed()
    by = operation.recorded_by
    voiding.void_of_procedure(procedure=operation, reason="entered twice", by=by, now=NOW)
    assert not Review.objects.exists()
    assert not Complication.objects.exists()
    assert Film.objects.exists()


def test_with_an_injury_fall_its_films_motion_and_scores() -> None:
    operation = followed()
    by = operation.recorded_by
    voiding.void_of_injury(injury=operation.injury, reason="entered twice", by=by, now=NOW)
    for model in (Film, MotionExam, Score):
        assert not model.objects.exists()
        assert model.everything.get().void_reason == "entered twice"


def test_with_a_patient_falls_everything_and_another_patients_rows_stay() -> None:
    operation, other = followed(), followed()
    patient = operation.injury.patient
    voiding.void_of_patient(patient=patient, reason="erased", by=patient.recorded_by, now=NOW)
    for model in (Review, Complication):
        assert set(model.objects.values_list("procedure", flat=True)) == {other.pk}
    for model in (Film, MotionExam, Score):
        assert set(model.objects.values_list("injury", flat=True)) == {other.injury_id}
