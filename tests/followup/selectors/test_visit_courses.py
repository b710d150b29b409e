from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from followup.selectors import clinic, milestones, visit_courses
from followup.services import motion, scores
from registry.models import Injury
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
AT: dict[str, Any] = {"operated_on": date(2026, 6, 5), "today": TODAY}


def examined(injury: Injury, on: date, **values: Any) -> None:
    facts = {"examined_on": on, "side": "left", "mode": "active", **values}
    by = injury.recorded_by
    motion.record_motion(injury=injury, values=facts, by=by, now=NOW, today=TODAY)


def test_motion_comes_with_the_milestone_of_its_week_and_asks_nothing_more(
    counted: Callable[[], Any],
) -> None:
    injury = builders.procedure().injury
    examined(injury, date(2026, 7, 17), flexion_deg=80)
    examined(injury, TODAY, flexion_deg=140)
    examined(injury, TODAY, side="right", flexion_deg=170)
    exams, reviews = clinic.earlier_of(injury).motion, milestones.reviews_of(injury)
    with counted() as queries:
        flexion = visit_courses.motion_of(injury, exams, reviews, **AT)[0]
    assert len(queries) == 0
    assert "active today 140 on 25 Nov 2026, before 80 on 17 Jul 2026 (+60)" in flexion.words
    assert "other side 170" in flexion.words
    # The shipped protocol asks for 150 degrees of active flexion at 6 months.
    assert flexion.milestone == "6 months asks for active at least 150"


def test_internal_rotation_is_said_by_its_landmark() -> None:
    injury = builders.procedure().injury
    assert visit_courses.rotation_of(injury, ()) == ""
    examined(injury, date(2026, 7, 17), internal_rotation="buttock")
    examined(injury, TODAY, internal_rotation="t12")
    examined(injury, TODAY, side="right", internal_rotation="t7")
    assert visit_courses.rotation_of(injury, clinic.earlier_of(injury).motion) == (
        "Internal rotation, thumb reaches: T12 on 25 Nov 2026, before Buttock, "
        "other side T7, between the shoulder blades."
    )


def test_scores_come_by_instrument() -> None:
    injury, by = builders.procedure().injury, builders.person("recorder")
    for on, total in ((date(2026, 7, 17), 6), (TODAY, 2)):
        scores.record_score(
            injury=injury,
            instrument="pain_nrs",
            taken_on=on,
            total=total,
            by=by,
            now=NOW,
            today=TODAY,
        )
    (course,) = visit_courses.scores_of(clinic.earlier_of(injury).scores, **AT)
    assert course.change == "4 better than last time"
    assert course.chart is not None
    assert len(course.chart.dots) == 2
