"""Day 7 and day 12, each once, to nobody twice."""

import pytest

from followup.rules.reminding import REMINDER_DAYS, checked_days, reminder_due


def test_over_three_weeks_of_nights_two_reminders_go_on_their_days() -> None:
    sent, went = 0, []
    for day in range(22):
        number = reminder_due(day, REMINDER_DAYS, sent)
        if number is not None:
            went.append((day, number))
            sent = number
    assert went == [(7, 1), (12, 2)]


def test_after_missed_nights_only_the_latest_goes() -> None:
    assert reminder_due(13, REMINDER_DAYS, 0) == 2
    assert reminder_due(13, REMINDER_DAYS, 2) is None


def test_without_days_nobody_is_reminded() -> None:
    assert reminder_due(30, (), 0) is None


@pytest.mark.parametrize(
    ("days", "said"), [((0,), "day 0"), ((21,), "day 21"), ((12, 7), "rising"), ((7, 7), "rising")]
)
def test_days_that_make_no_sense_are_refused(days: tuple[int, ...], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        checked_days(days, 21)


def test_days_that_make_sense_are_kept() -> None:
    assert checked_days([7, 12], 21) == (7, 12)
    assert checked_days([], 21) == ()
