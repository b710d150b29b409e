"""Who comes, who does not, who is called and who is booked."""

import json
from collections import Counter
from datetime import date, timedelta
from pathlib import Path

import pytest

from analytics.simulation import attendance
from analytics.simulation.attendance import FIXATION_STEPS, NEVER, REMOVAL_STEPS, Attendance, Step
from analytics.simulation.draws import Draws
from followup.models.contacts import ContactMeans, ContactOutcome

MANY = 6000
OPERATED = date(2024, 1, 10)
FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"
DRAWN = [attendance.attended(Draws(4, n), FIXATION_STEPS, 2000, frozenset()) for n in range(MANY)]
STAYED = [one for one in DRAWN if one.lost_from == NEVER]


@pytest.mark.parametrize("step", FIXATION_STEPS, ids=lambda step: step.code)
def test_of_those_who_stay_the_stated_share_comes_to_each_step(step: Step) -> None:
    came = sum(any(one.code == step.code for one, _ in seen.came) for seen in STAYED)
    assert came / len(STAYED) == pytest.approx(step.share, abs=0.025)


def test_the_stated_share_is_lost_from_some_day_on() -> None:
    assert 1 - len(STAYED) / MANY == pytest.approx(attendance.LOST_SHARE, abs=0.02)
    for seen in DRAWN:
        assert all(day < seen.lost_from for _, day in seen.came)


def test_a_few_come_after_their_window_and_all_others_inside_it() -> None:
    # The baseline film is the one that cannot be late: it is taken before the patient goes home.
    visits = [(step, day) for seen in DRAWN for step, day in seen.came if step.opens]
    late = [day - step.closes for step, day in visits if day > step.closes]
    assert len(late) / len(visits) == pytest.approx(attendance.LATE_SHARE, abs=0.01)
    assert max(late) <= 15
    assert all(day >= step.opens for step, day in visits)


def test_a_visit_has_a_day_of_its_own_and_they_are_in_order() -> None:
    for seen in DRAWN:
        days = [day for _, day in seen.came]
        assert days == sorted(set(days))
    taken = frozenset(range(40, 50))
    busy = [attendance.attended(Draws(4, n), FIXATION_STEPS, 2000, taken) for n in range(500)]
    assert not any(day in taken for seen in busy for _, day in seen.came)


def test_nobody_comes_after_the_limit_and_a_step_still_open_is_not_absent() -> None:
    for number in range(500):
        seen = attendance.attended(Draws(4, number), FIXATION_STEPS, 80, frozenset())
        assert all(day <= 80 for _, day in seen.came)
        assert {step.code for step in seen.absent} <= {"baseline", "2w", "6w", "3m"}


def test_the_published_share_of_appointments_is_not_kept() -> None:
    missed = [
        one
        for number, seen in enumerate(STAYED)
        for one in attendance.missed(Draws(9, number), seen, OPERATED, 2000)
    ]
    share = len(missed) / (len(STAYED) * len(FIXATION_STEPS))
    # 7.7 % is the share among steps at which that many can be absent; 97 % come to the baseline.
    assert 0.06 <= share <= attendance.MISSED_SHARE
    by_step = Counter(one.step for one in missed)
    for step in FIXATION_STEPS[2:]:
        assert by_step[step.code] / len(STAYED) == pytest.approx(attendance.MISSED_SHARE, abs=0.015)


def test_the_steps_are_those_of_the_shipped_protocols() -> None:
    unit_days = {"days": 1, "weeks": 7, "months": 365.25 / 12}
    shipped = {}
    for protocol in json.loads((FIXTURES / "protocols.json").read_text()):
        for step in protocol["steps"]:
            due = round(step["offset_value"] * unit_days[step["offset_unit"]])
            before, after = step["window_before_days"], step["window_after_days"]
            shipped[step["code"]] = (due, due - before, due + after)
    for one in (*FIXATION_STEPS, *REMOVAL_STEPS):
        assert (one.due, one.opens, one.closes) == pytest.approx(shipped[one.code], abs=1)


def test_a_patient_is_tried_until_somebody_answers() -> None:
    ends = set()
    for number, seen in enumerate(DRAWN[:1500]):
        tries = attendance.attempts(Draws(7, number), seen, OPERATED, 2000, has_phone=True)
        for step in {one.step for one in tries}:
            answers = [one.outcome for one in tries if one.step == step]
            assert not set(answers[:-1]) & {"reached", "declined"}
            ends.add(answers[-1])
        assert {one.means for one in tries} <= set(ContactMeans.values)
        assert {one.outcome for one in tries} <= set(ContactOutcome.values)
    assert {"reached", "declined", "no_answer"} <= ends


def test_somebody_without_a_telephone_is_written_to() -> None:
    tries = [
        one
        for number, seen in enumerate(DRAWN[:300])
        for one in attendance.attempts(Draws(7, number), seen, OPERATED, 2000, has_phone=False)
    ]
    assert {one.means for one in tries} == {"letter"}


def booked(number: int, elapsed: int, lost_from: int = NEVER) -> tuple[attendance.SimBooking, ...]:
    return attendance.bookings(
        Draws(3, number),
        FIXATION_STEPS,
        Attendance((), (), lost_from),
        OPERATED,
        OPERATED + timedelta(days=elapsed),
        weekdays=(0, 2),
        a_year=30,
    )


def test_the_next_open_step_is_booked_on_a_clinic_day_inside_its_window() -> None:
    rows = [row for number in range(400) for row in booked(number, 36)]
    assert {row.step for row in rows} == {"6w"}
    assert len(rows) / 400 == pytest.approx(attendance.BOOKED_SHARE, abs=0.08)
    for row in rows:
        day = (row.on - OPERATED).days
        assert row.on.weekday() in (0, 2)
        assert 36 <= day <= 56


def test_nobody_who_is_lost_is_booked() -> None:
    assert all(booked(number, 36, lost_from=20) == () for number in range(50))
