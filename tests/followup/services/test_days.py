"""Nobody comes to a visit, is filmed or examined, or answers after their death."""

from datetime import date
from typing import Any

import pytest

from followup.models import Film, MotionExam, Review, Score
from followup.services import films, motion, scores, visits
from registry.errors import BadInput
from registry.models import Injury
from registry.services import patients
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
DIED, AFTER = date(2026, 9, 10), date(2026, 9, 11)


@pytest.fixture
def review() -> Review:
    operation = builders.procedure(performed_on=date(2026, 6, 5))
    patient = operation.injury.patient
    patients.change_status(
        patient=patient,
        status="died",
        on=DIED,
        note="a letter",
        expected_version=patient.version,
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    found: Review = Review.objects.select_related("procedure__injury__patient").get(
        procedure=operation, step__code="6w"
    )
    return found


def record(what: str, injury: Injury, on: date, given: dict[str, Any]) -> None:
    if what == "film":
        films.record_film(injury=injury, values={"taken_on": on, "view": "zanca"}, **given)
    elif what == "motion":
        values = {"examined_on": on, "side": "left", "mode": "active", "flexion_deg": 120}
        motion.record_motion(injury=injury, values=values, **given)
    else:
        scores.record_score(injury=injury, instrument="pain_nrs", taken_on=on, total=2.0, **given)


def saved() -> int:
    return Film.objects.count() + MotionExam.objects.count() + Score.objects.count()


@pytest.mark.parametrize("what", ["film", "motion", "score"])
def test_what_is_dated_after_a_death_is_refused_and_up_to_it_taken(
    review: Review, what: str
) -> None:
    injury = review.procedure.injury
    given = {"by": review.recorded_by, "now": NOW, "today": TODAY}
    with pytest.raises(BadInput, match="after the patient's death"):
        record(what, injury, AFTER, given)
    assert saved() == 0
    record(what, injury, DIED, given)
    assert saved() == 1


def test_nobody_visits_after_their_death(review: Review) -> None:
    with pytest.raises(BadInput, match="after the patient's death"):
        visits.save_visit(
            review=review,
            visited_on=AFTER,
            findings=visits.VisitFindings(next_step_note="come again"),
            expected_version=review.version,
            by=review.recorded_by,
            now=NOW,
            today=TODAY,
        )
