from datetime import date

import pytest

from analytics.rules.alert_plans import PLANS, choices, day_of, said, task_words
from registry.errors import BadInput, IllegalTransition

TODAY = date(2026, 11, 25)


def test_today_is_early_enough_and_yesterday_is_over() -> None:
    assert day_of("open", "observe", TODAY, TODAY) == TODAY
    assert day_of("planned", "revise", TODAY, TODAY) == TODAY
    with pytest.raises(BadInput, match="is over"):
        day_of("open", "observe", date(2026, 11, 24), TODAY)


def test_every_fault_is_named_at_once() -> None:
    with pytest.raises(BadInput) as refused:
        day_of("open", "", None, TODAY)
    assert set(refused.value.faults) == {"plan", "due_on"}


def test_what_was_taken_back_takes_no_plan() -> None:
    with pytest.raises(IllegalTransition):
        day_of("taken_back", "observe", TODAY, TODAY)


def test_each_plan_says_what_its_day_means() -> None:
    assert [code for code, _ in choices()] == list(PLANS)
    assert dict(choices())["observe"] == "Observe: another film by the day below"


def test_a_plan_is_written_for_its_task_and_its_history() -> None:
    assert task_words("imaging", " CT ") == "Arrange further imaging of a reduction. CT"
    assert task_words("imaging", "") == "Arrange further imaging of a reduction."
    assert said("observe", TODAY, "") == "Observe, another film by 25 Nov 2026."
    assert said("observe", TODAY, "Zanca").endswith("2026. Zanca")
