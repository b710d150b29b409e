from datetime import date

import pytest

from followup.rules.milestones import Measured, OtherSide, Schedule, StepMilestones
from followup.rules.motion_courses import MotionCourse, motion_courses
from followup.rules.step_milestones import Milestone
from followup.rules.windows import Window

OPERATED, TODAY = date(2026, 6, 5), date(2026, 11, 25)
JULY, NOVEMBER = date(2026, 7, 17), date(2026, 11, 25)


def needed(step: str, at_least: int | None, at_most: int | None, *days: date) -> StepMilestones:
    one = Milestone("flexion", "active", at_least, at_most, "as written", "a test")
    return StepMilestones(step, Window(*days), (one,))


SCHEDULE = Schedule(
    OPERATED,
    (
        needed("6 weeks", None, 90, date(2026, 7, 10), date(2026, 7, 17), date(2026, 7, 31)),
        needed("6 months", 150, None, date(2026, 11, 5), date(2026, 12, 5), date(2027, 2, 5)),
    ),
)


def flexion(*exams: Measured, other: OtherSide | None = None) -> MotionCourse:
    beside = other or OtherSide(True, [Measured(JULY, "active", {"flexion": 170})])
    found = motion_courses(exams, beside, [SCHEDULE], operated_on=OPERATED, today=TODAY)
    return next(one for one in found if one.movement == "flexion")


def test_the_words_say_now_before_the_other_side_and_what_the_week_asks() -> None:
    course = flexion(
        Measured(NOVEMBER, "active", {"flexion": 140}),
        Measured(JULY, "active", {"flexion": 95}),
    )
    assert course.words == (
        "Flexion, degrees: active today 140 on 25 Nov 2026, before 95 on 17 Jul 2026 (+45); "
        "other side 170 (17 Jul 2026); 6 months asks for active at least 150."
    )


def test_the_chart_has_a_dot_for_each_exam_a_bar_for_each_milestone_and_the_other_side() -> None:
    course = flexion(
        Measured(JULY, "active", {"flexion": 95}),
        Measured(JULY, "passive", {"flexion": 110}),
    )
    assert course.chart is not None
    assert [dot.is_other for dot in course.chart.dots] == [False, True]
    assert [bar.is_limit for bar in course.chart.bars] == [True, False]
    assert course.chart.level_y is not None
    assert "active last 95 on 17 Jul 2026" in course.words
    assert "passive last 110 on 17 Jul 2026" in course.words


@pytest.mark.parametrize(
    ("other", "says"),
    [
        (OtherSide(False), "the other side is not known to be uninjured"),
        (OtherSide(True), "the other side was not measured"),
    ],
)
def test_without_a_reference_it_says_why(other: OtherSide, says: str) -> None:
    course = flexion(Measured(JULY, "active", {"flexion": 95}), other=other)
    assert says in course.words
    assert course.chart is not None
    assert course.chart.level_y is None


def test_what_was_not_measured_is_said() -> None:
    found = motion_courses([], OtherSide(True), [], operated_on=OPERATED, today=TODAY)
    assert [one.movement for one in found] == ["flexion", "abduction", "external_rotation"]
    assert all("active motion not measured yet" in one.words for one in found)
    assert all(one.chart is None for one in found)
