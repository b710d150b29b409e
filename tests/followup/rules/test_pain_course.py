"""A patient's pain over time."""

from datetime import date

import pytest

from followup.rules.pain_course import (
    BOTTOM,
    HEIGHT,
    LEFT,
    RIGHT,
    TOP,
    WIDTH,
    Pain,
    drawing,
    in_words,
)

COURSE = (
    Pain(date(2026, 6, 19), 6, hardware_in=True),
    Pain(date(2026, 7, 17), 3.5, hardware_in=True),
    Pain(date(2026, 9, 4), 7, hardware_in=True),
    Pain(date(2026, 11, 6), 0, hardware_in=False),
)


def test_the_last_scores_are_told_with_their_days() -> None:
    assert in_words(COURSE) == ("pain 7 on 04 Sep 2026, then 0 on 06 Nov 2026 (hardware out)")
    assert in_words(()) == ""


def test_the_first_and_the_last_day_stand_at_the_ends_and_pain_goes_up() -> None:
    shown = drawing(COURSE)
    assert shown is not None
    # 140 days from 19 June to 6 November; 17 July is the 28th: a fifth of 324 is 65
    assert [dot.x for dot in shown.dots] == [LEFT, LEFT + 65, LEFT + 178, WIDTH - RIGHT]
    # 90 units for ten points: 6 lies 36 below the top, 3.5 58, 7 27 and 0 at the floor
    assert [dot.y - TOP for dot in shown.dots] == [36, 58, 27, HEIGHT - TOP - BOTTOM]
    assert shown.line.split()[0] == f"{LEFT},{TOP + 36}"
    assert [dot.pain.hardware_in for dot in shown.dots] == [True, True, True, False]


def test_one_score_is_no_course() -> None:
    assert drawing(COURSE[:1]) is None


def test_two_scores_of_one_day_can_be_drawn() -> None:
    shown = drawing((COURSE[0], COURSE[0]))
    assert shown is not None
    assert [dot.x for dot in shown.dots] == [LEFT, LEFT]


def test_scores_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="not in the order of their days"):
        drawing(COURSE[::-1])
