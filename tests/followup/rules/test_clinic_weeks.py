from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.clinic_weeks import (
    ClinicPlan,
    Week,
    days_held,
    in_words,
    last_day,
    share_out,
    together,
    week_name,
    weeks_from,
)

TUESDAYS = ClinicPlan(key=1, weekday=1, slots=4, surgeon=7)


# ISO 8601 weeks (from memory), the first and the fifth of them published with the standard.
@pytest.mark.parametrize(
    ("day", "name"),
    [
        ("1977-01-01", "1976-W53"),
        ("2005-01-01", "2004-W53"),
        ("2008-12-29", "2009-W01"),
        ("2010-01-03", "2009-W53"),
        ("2019-12-30", "2020-W01"),
        ("2020-12-31", "2020-W53"),
        ("2024-12-30", "2025-W01"),
        ("2026-01-01", "2026-W01"),
        ("2026-11-25", "2026-W48"),
        ("2026-12-28", "2026-W53"),
        ("2027-01-03", "2026-W53"),
        ("2022-12-31", "2022-W52"),
    ],
)
def test_a_week_has_the_number_of_the_standard(day: str, name: str) -> None:
    assert week_name(date.fromisoformat(day)) == name


def test_the_weeks_run_right_across_week_53() -> None:
    mondays = weeks_from(date(2026, 11, 25), 8)
    assert [week_name(one)[2:] for one in mondays] == [
        "26-W48", "26-W49", "26-W50", "26-W51", "26-W52", "26-W53", "27-W01", "27-W02",
    ]  # fmt: skip
    assert last_day(date(2026, 11, 25), 8) == date(2027, 1, 17)
    assert Week(date(2026, 12, 28), 1, 0, 0).sunday == date(2027, 1, 3)


def test_a_clinic_is_held_weekly_but_not_on_closed_days() -> None:
    closed = {date(2026, 12, 29)}
    found = list(days_held(TUESDAYS, closed, date(2026, 12, 22), date(2027, 1, 11)))
    assert found == [date(2026, 12, 22), date(2027, 1, 5)]


def test_a_surgeons_own_patients_fill_the_own_clinic_first() -> None:
    held = [ClinicPlan(1, 1, 3, surgeon=7), ClinicPlan(2, 1, 3, surgeon=8)]
    assert share_out(held, {1: 3, 2: 3}, {7: 2, 8: 1}) == {1: 2, 2: 1}
    # Nobody's patients, and those of a surgeon without a clinic that day, go where there is room.
    assert share_out(held, {1: 3, 2: 3}, {None: 2, 9: 2}) == {1: 3, 2: 1}


def test_who_has_no_room_in_the_own_clinic_goes_to_another_before_it_is_over() -> None:
    held = [ClinicPlan(1, 1, 3, surgeon=7), ClinicPlan(2, 1, 3, surgeon=8)]
    assert share_out(held, {1: 3, 2: 3}, {7: 5}) == {1: 3, 2: 2}
    assert share_out(held, {1: 3, 2: 3}, {8: 8}) == {1: 3, 2: 5}
    assert share_out(held, {1: 3, 2: 3}, {None: 8}) == {1: 5, 2: 3}


def test_a_day_without_a_clinic_gives_nobody_a_place() -> None:
    assert share_out([], {}, {7: 3}) == {}


@given(
    st.lists(st.tuples(st.integers(0, 5), st.sampled_from([None, 7, 8])), min_size=1, max_size=4),
    st.dictionaries(st.sampled_from([None, 7, 8, 9]), st.integers(0, 9)),
)
def test_nobody_is_lost_and_no_clinic_is_over_while_another_has_room(
    clinics: list[tuple[int, int | None]], waiting: dict[int | None, int]
) -> None:
    held = [ClinicPlan(n, 1, slots, surgeon) for n, (slots, surgeon) in enumerate(clinics)]
    free = {plan.key: plan.slots for plan in held}
    given_out = share_out(held, free, waiting)
    assert sum(given_out.values()) == sum(waiting.values())
    over = sum(max(0, given_out[key] - free[key]) for key in free)
    assert over == max(0, sum(waiting.values()) - sum(free.values()))


def test_clinics_together_add_up_week_by_week() -> None:
    monday, friday = date(2026, 12, 21), date(2026, 12, 25)
    one = [Week(monday, 4, 1, 5), Week(monday + timedelta(7), 4, 0, 0)]
    two = [Week(monday, 0, 0, 0, (friday,)), Week(monday + timedelta(7), 6, 2, 1)]
    total = together([one, two])
    assert total == [Week(monday, 4, 1, 5, (friday,)), Week(monday + timedelta(7), 10, 2, 1)]
    assert (total[0].due, total[0].over, total[1].over) == (6, 2, 0)


def test_the_words_name_the_weeks_that_are_over_and_by_how_much() -> None:
    weeks = [Week(date(2026, 12, 21), 4, 1, 5), Week(date(2026, 12, 28), 4, 0, 3)]
    assert in_words("Tuesdays", weeks) == (
        "Tuesdays, 2 weeks from 2026-W52 to 2026-W53: 8 slots, 1 booked, 8 due and not booked yet. "
        "More due than slots in 1 of them: 2026-W52 by 2."
    )
    assert in_words("Tuesdays", weeks[1:]).endswith("No week has more due than slots.")
    assert in_words("Tuesdays", []) == "Tuesdays: no weeks are shown."
