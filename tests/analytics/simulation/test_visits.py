"""What one visit finds."""

import statistics
from dataclasses import replace
from datetime import date

import pytest

from analytics.simulation import visits
from analytics.simulation.attendance import FIXATION_STEPS, REMOVAL_STEPS
from analytics.simulation.draws import Draws
from analytics.simulation.films import Shoulder
from analytics.simulation.records import SimVisit
from analytics.simulation.visits import Course
from followup.models.films import Film, Reading
from followup.models.motion import MotionExam
from followup.rules.scores.catalogue import INSTRUMENTS

HELD = Shoulder(8.6, 9.0, 8.0, None, 90, is_fracture=True, calibration="marker")
COURSE = Course(date(2025, 3, 6), "left", "female", HELD, hardware_out_day=200)
STEPS = {step.code: step for step in (*FIXATION_STEPS, *REMOVAL_STEPS)}


def seen(code: str, day: int, course: Course = COURSE, many: int = 300) -> list[SimVisit]:
    return [
        visits.visit(Draws(3, number), course, STEPS[code], course.on(day))
        for number in range(many)
    ]


def test_a_step_collects_what_belongs_to_it() -> None:
    at_two_weeks = seen("2w", 14)
    assert all(visit.film is None and not visit.motion for visit in at_two_weeks)
    at_a_year = seen("12m", 365)
    filmed = sum(visit.film is not None for visit in at_a_year) / 300
    assert filmed == pytest.approx(visits.FILMED_SHARE, abs=0.04)
    for visit in at_a_year:
        assert set(visit.scores) <= set(visits.COMPLETED["12m"])


@pytest.mark.parametrize(("name", "share"), sorted(visits.COMPLETED["12m"].items()))
def test_instruments_are_completed_as_often_as_stated(name: str, share: float) -> None:
    done = sum(name in visit.scores for visit in seen("12m", 365)) / 300
    assert done == pytest.approx(share, abs=0.08)


def test_every_value_is_one_that_the_follow_up_takes() -> None:
    levels = set(dict(MotionExam._meta.get_field("internal_rotation").flatchoices))
    unions = set(dict(Reading._meta.get_field("union").flatchoices))
    views = set(dict(Film._meta.get_field("view").flatchoices))
    for visit in seen("12m", 365):
        for name, value in visit.scores.items():
            lowest, highest = INSTRUMENTS[name].low, INSTRUMENTS[name].high
            assert lowest <= value <= highest
        for exam in visit.motion:
            assert exam.internal_rotation in levels
            assert 0 <= exam.flexion_deg <= 180
        if visit.film is not None:
            assert visit.film.view in views
            assert {one.union for one in visit.film.readings} <= unions


def test_both_sides_are_examined_and_named_in_words() -> None:
    for visit in seen("6m", 183):
        sides = {exam.side for exam in visit.motion}
        assert sides <= {"left", "right"}
        assert not visit.motion or "left" in sides


def test_passive_motion_is_examined_early_only() -> None:
    def modes(code: str, day: int) -> set[str]:
        return {exam.mode for visit in seen(code, day) for exam in visit.motion}

    assert modes("6w", 42) == {"active", "passive"}
    assert modes("6m", 183) == {"active"}


def test_shoulders_mend_and_a_loss_is_felt() -> None:
    lost = replace(COURSE, shoulder=replace(HELD, loss_day=20))

    def mean(course: Course, code: str, day: int) -> float:
        values = [visit.scores.get("quickdash") for visit in seen(code, day, course)]
        return statistics.fmean(value for value in values if value is not None)

    assert mean(COURSE, "6w", 42) > mean(COURSE, "12m", 365) + 15
    assert mean(lost, "12m", 365) > mean(COURSE, "12m", 365) + 8


def test_hardware_is_in_place_until_the_day_it_comes_out() -> None:
    assert [COURSE.has_hardware(day) for day in (199, 200, 201)] == [True, True, False]
    assert replace(COURSE, hardware_out_day=None).has_hardware(9999)
    assert not seen("12m", 365, many=1)[0].hardware_in_place


def test_an_unplanned_visit_is_a_film_and_nothing_else() -> None:
    visit = visits.unplanned_film(Draws(1, 1), COURSE, COURSE.on(50))
    assert (visit.step, visit.motion, visit.scores) == ("", (), {})
    assert visit.film is not None
    assert visit.film.taken_on == visit.on == COURSE.on(50)
