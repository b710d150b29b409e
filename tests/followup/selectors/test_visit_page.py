from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from followup.models import Review
from followup.selectors import clinic, visit_page
from followup.services import films, motion, scores
from registry.services import enrolment
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def review_of(operation: Any) -> Review:
    found: Review = operation.reviews.get(step__code="6m")
    return found


def seen_on(review: Review, on: date) -> None:
    injury = review.procedure.injury
    at: dict[str, Any] = {"by": injury.recorded_by, "now": NOW, "today": TODAY}
    facts = {"taken_on": on, "view": "zanca", "calibration": "marker"}
    film = films.record_film(injury=injury, values=facts, **at)
    read = {"ccd_injured_mm": Decimal("9.4")}
    films.record_reading(film=film, values=read, reader=injury.recorded_by, **at)
    exam = {"examined_on": on, "side": "left", "mode": "active", "flexion_deg": 120}
    motion.record_motion(injury=injury, values=exam, **at)
    scores.record_score(injury=injury, instrument="pain_nrs", taken_on=on, total=3, **at)


def test_what_was_implanted_comes_in_words_and_as_a_drawing() -> None:
    operation = builders.procedure(construct={"construct_type": "HP", "plate_holes": 6})
    found = visit_page.built(operation, clinic.earlier_of(operation.injury))
    assert found["built"] == "6 holes"
    assert "hook under the acromion, 6 holes" in found["drawing"].words


def test_a_joint_injury_has_no_fracture_in_its_drawing() -> None:
    injury = builders.injury(kind="ac_joint", classes={})
    operation = builders.procedure(of=injury)
    drawn = visit_page.built(operation, clinic.earlier_of(injury))["drawing"]
    assert "fracture" not in {shape.look for shape in drawn.shapes}


def test_the_page_asks_as_often_for_many_findings_as_for_few(
    counted: Callable[[], Any],
) -> None:
    numbers = []
    for days in (1, 9):
        review = review_of(builders.procedure())
        for day in range(days):
            seen_on(review, date(2026, 7, 1 + day))
        review = clinic.open_review(review.recorded_by, review.pk)
        with counted() as queries:
            shown = visit_page.before(review, clinic.earlier_of(review.procedure.injury), TODAY)
        assert len(shown["strip"]) == days
        numbers.append(len(queries))
    assert numbers[0] == numbers[1]


def test_hardware_that_came_out_is_said() -> None:
    operation = builders.procedure()
    review = review_of(operation)
    earlier = clinic.earlier_of(operation.injury)
    assert visit_page.before(review, earlier, TODAY)["taken_out"] is None
    removal = enrolment.record_procedure(
        injury=operation.injury,
        values={
            "kind": "implant_removal",
            "performed_on": date(2026, 11, 2),
            "revises": operation,
        },
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    earlier = clinic.earlier_of(operation.injury)
    assert visit_page.before(review, earlier, TODAY)["taken_out"] == removal
    # A review after the removal is about what was taken out.
    assert visit_page.built(removal, earlier)["construct"] == operation.construct
    alone = replace(earlier, procedures=(removal,))
    assert visit_page.built(removal, alone)["drawing"] is None
