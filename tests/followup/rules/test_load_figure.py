import itertools
import re
from datetime import date, timedelta

import pytest

from followup.rules.attendance import absence
from followup.rules.clinic_weeks import Week
from followup.rules.load_figure import HEIGHT, LEFT, RIGHT, WIDTH, draw

MONDAY = date(2026, 12, 21)
PAST = absence(15, 148)


def weeks(*counts: tuple[int, int, int]) -> list[Week]:
    return [Week(MONDAY + timedelta(weeks=n), *one) for n, one in enumerate(counts)]


def test_the_parts_of_a_bar_stand_on_each_other_and_add_up() -> None:
    (bar,) = draw(weeks((10, 4, 8)), PAST).bars
    assert bar.booked.y == pytest.approx(bar.waiting.y + bar.waiting.height)
    assert bar.waiting.height == pytest.approx(2 * bar.booked.height, abs=0.2)
    assert bar.over == 2
    assert bar.beyond is not None
    assert bar.beyond.y == bar.waiting.y
    assert bar.beyond.height == pytest.approx(bar.booked.height / 2, abs=0.2)


def test_expected_lies_inside_its_range_and_below_those_due() -> None:
    (bar,) = draw(weeks((10, 4, 8)), PAST).bars
    assert bar.likely_y is not None
    assert bar.waiting.y < bar.high_y < bar.likely_y < bar.low_y


def test_without_a_past_no_expected_number_is_drawn() -> None:
    figure = draw(weeks((10, 4, 8)), absence(0, 0))
    assert not figure.has_range
    assert figure.bars[0].likely_y is None


def test_a_week_in_which_nobody_is_due_expects_nobody() -> None:
    assert draw(weeks((10, 0, 0)), PAST).bars[0].likely_y is None


def test_the_slots_are_a_line_with_a_step_for_each_change() -> None:
    figure = draw(weeks((10, 0, 0), (0, 0, 0), (10, 0, 0)), PAST)
    heights = [float(found) for found in re.findall(r"V([\d.]+)", figure.slots)]
    assert heights == [figure.base, figure.ticks[-1].y]
    assert figure.slots.startswith(f"M{float(LEFT)} ")
    assert figure.slots.endswith(f"H{float(WIDTH - RIGHT)}")


@pytest.mark.parametrize("most", [0, 1, 3, 7, 12, 40, 99, 1234])
def test_everything_stays_inside_the_drawing_under_round_numbers(most: int) -> None:
    figure = draw(weeks((most, most // 2, most), (0, 0, most)), PAST)
    numbers = [int(tick.text) for tick in figure.ticks]
    assert numbers[0] == 0
    assert numbers[-1] >= most + most // 2
    assert len(numbers) <= 7
    steps = {later - earlier for earlier, later in itertools.pairwise(numbers)}
    assert len(steps) == 1
    assert re.fullmatch("[125]0*", str(steps.pop()))
    for bar in figure.bars:
        assert 0 <= bar.waiting.y <= figure.base <= HEIGHT
        assert bar.over_y > 0


def test_each_bar_says_in_words_what_it_shows_and_every_second_is_labelled() -> None:
    figure = draw(weeks((10, 4, 8), (10, 1, 1)), PAST)
    assert figure.bars[0].words == "2026-W52: 10 slots, 4 booked, 8 due, not booked; 2 too many"
    assert figure.bars[1].words == "2026-W53: 10 slots, 1 booked, 1 due, not booked"
    assert [bar.label for bar in figure.bars] == ["W52", ""]
