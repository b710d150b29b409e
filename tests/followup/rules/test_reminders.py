from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.reminders import ReminderPlan, key_of

OPENS = date(2026, 11, 1)
PLAN = ReminderPlan(count=2, first_day=3, spacing_days=7)


@pytest.mark.parametrize(
    ("after", "number"), [(0, None), (2, None), (3, 1), (9, 1), (10, 2), (17, 2), (90, 2)]
)
def test_the_first_goes_some_days_after_the_window_opened_and_the_next_a_week_later(
    after: int, number: int | None
) -> None:
    assert PLAN.number_due(OPENS, OPENS + timedelta(days=after)) == number


def test_a_site_may_remind_of_nothing() -> None:
    assert ReminderPlan(count=0).number_due(OPENS, OPENS + timedelta(days=30)) is None


@given(
    count=st.integers(1, 10),
    first=st.integers(0, 60),
    spacing=st.integers(1, 60),
    days=st.lists(st.integers(0, 400), max_size=40),
)
def test_numbers_rise_with_the_days_and_never_pass_the_count(
    count: int, first: int, spacing: int, days: list[int]
) -> None:
    plan = ReminderPlan(count, first, spacing)
    found = [plan.number_due(OPENS, OPENS + timedelta(days=day)) or 0 for day in sorted(days)]
    assert found == sorted(found)
    assert all(number <= count for number in found)


def test_nothing_is_due_of_what_opened_after_the_last_day_that_is_looked_at() -> None:
    today = OPENS + timedelta(days=3)
    assert PLAN.opened_by(today) == OPENS
    assert PLAN.number_due(PLAN.opened_by(today), today) == 1
    assert PLAN.number_due(PLAN.opened_by(today) + timedelta(days=1), today) is None


def test_a_reminder_is_named_by_its_review_and_number() -> None:
    assert key_of(7, 2) == "reminder:7:2"
