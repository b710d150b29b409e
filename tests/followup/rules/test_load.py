import itertools
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, linear_sum_assignment, milp

from followup.rules.load import Levelled, Waiting, level, moves

MONDAY = date(2026, 11, 30)


def day(number: int) -> date:
    return MONDAY + timedelta(days=number)


def waiting(key: int, opens: int, due: int, closes: int, proposed: int | None = None) -> Waiting:
    wanted = due if proposed is None else proposed
    return Waiting(key, day(opens), day(due), day(closes), day(wanted))


def price(reviews: list[Waiting], answer: Levelled) -> tuple[int, int, int]:
    """Return how many were left out, how many moved, and the sum of days from due."""
    apart = sum(
        abs((answer.days[one.key] - one.due_on).days) for one in reviews if one.key in answer.days
    )
    return len(answer.left), len(moves(reviews, answer)), apart


def check(reviews: list[Waiting], free: dict[date, int], answer: Levelled) -> None:
    """Hold an answer against the windows, the slots, and its own proof of what is short."""
    by_key = {one.key: one for one in reviews}
    for key, on in answer.days.items():
        assert by_key[key].opens_on <= on <= by_key[key].closes_on
    for on in set(answer.days.values()):
        assert sum(given == on for given in answer.days.values()) <= free[on]
    assert set(answer.days) | set(answer.left) == set(by_key)
    assert not set(answer.days) & set(answer.left)
    assert sum(one.short for one in answer.shortages) == len(answer.left)
    for short in answer.shortages:
        days = set(short.days)
        bound = [
            one
            for one in reviews
            if {on for on, slots in free.items() if slots and one.opens_on <= on <= one.closes_on}
            <= days
        ]
        # Hall's condition is broken on these very days: so many reviews have no other.
        assert sum(free[on] for on in days) == short.free
        assert (len(bound) >= short.reviews) if days else (len(bound) == short.reviews)
        assert short.short > 0


def by_trying(reviews: list[Waiting], free: dict[date, int]) -> tuple[int, int, int]:
    """Try every way of giving days, and return the best price."""
    choices = [
        [None, *(on for on in free if one.opens_on <= on <= one.closes_on)] for one in reviews
    ]
    best = (len(reviews) + 1, 0, 0)
    for given_days in itertools.product(*choices):
        if any(given_days.count(on) > slots for on, slots in free.items()):
            continue
        placed = {
            one.key: on for one, on in zip(reviews, given_days, strict=True) if on is not None
        }
        left = tuple(one.key for one in reviews if one.key not in placed)
        best = min(best, price(reviews, Levelled(placed, left)))
    return best


def by_assignment(reviews: list[Waiting], free: dict[date, int]) -> tuple[int, int, int]:
    """Solve it as an assignment of reviews to single slots, with one empty place for each review."""
    seats = [on for on, slots in sorted(free.items()) for _ in range(slots)]
    big, huge = 10_000, 100_000_000
    matrix = np.full((len(reviews), len(seats) + len(reviews)), huge, dtype=float)
    for row, one in enumerate(reviews):
        for column, on in enumerate(seats):
            inside = one.opens_on <= on <= one.closes_on
            cost = abs((on - one.due_on).days) + big * (on != one.proposed_on)
            matrix[row, column] = cost if inside else 100 * huge
    rows, columns = linear_sum_assignment(matrix)
    placed = {
        reviews[row].key: seats[column]
        for row, column in zip(rows, columns, strict=True)
        if column < len(seats) and matrix[row, column] < huge
    }
    left = tuple(one.key for one in reviews if one.key not in placed)
    return price(reviews, Levelled(placed, left))


def by_integers(reviews: list[Waiting], free: dict[date, int]) -> tuple[int, int, int]:
    """Solve it three times as an integer programme: placed, then moves, then days."""
    days = sorted(free)
    pairs = [
        (row, column)
        for row, one in enumerate(reviews)
        for column, on in enumerate(days)
        if one.opens_on <= on <= one.closes_on
    ]
    if not pairs:
        return len(reviews), 0, 0
    once = np.array([[row == n for row, _ in pairs] for n in range(len(reviews))], dtype=float)
    room = np.array([[column == n for _, column in pairs] for n in range(len(days))], dtype=float)
    slots = [free[on] for on in days]
    limits = [LinearConstraint(once, ub=1), LinearConstraint(room, ub=slots)]
    aims = [
        -np.ones(len(pairs)),
        np.array([float(days[column] != reviews[row].proposed_on) for row, column in pairs]),
        np.array([float(abs((days[column] - reviews[row].due_on).days)) for row, column in pairs]),
    ]
    values = []
    for aim in aims:
        done = milp(aim, constraints=limits, integrality=np.ones(len(pairs)), bounds=Bounds(0, 1))
        values.append(round(done.fun))
        limits.append(LinearConstraint(aim, ub=values[-1]))
    return len(reviews) + values[0], values[1], values[2]


@st.composite
def problems(draw: st.DrawFn, most: int, horizon: int) -> tuple[list[Waiting], dict[date, int]]:
    number = draw(st.integers(0, most))
    reviews = []
    for key in range(number):
        opens, due, closes = sorted(draw(st.integers(0, horizon)) for _ in range(3))
        proposed = draw(st.integers(opens, closes))
        reviews.append(waiting(key, opens, due, closes, proposed))
    held = draw(st.sets(st.integers(0, horizon), max_size=4))
    return reviews, {day(n): draw(st.integers(0, 3)) for n in held}


def test_nobody_moves_while_everybody_fits() -> None:
    reviews = [waiting(n, 0, 1, 14) for n in range(3)]
    answer = level(reviews, {day(1): 3, day(8): 3})
    assert answer.days == dict.fromkeys(range(3), day(1))
    assert moves(reviews, answer) == {}
    assert answer.is_feasible


def test_those_too_many_move_inside_their_window_and_no_others() -> None:
    reviews = [waiting(1, 0, 1, 6), waiting(2, 0, 1, 10), waiting(3, 0, 1, 14)]
    answer = level(reviews, {day(1): 2, day(8): 5})
    assert len(moves(reviews, answer)) == 1
    assert answer.days[1] == day(1)


def test_a_chain_of_moves_makes_room_where_no_single_one_does() -> None:
    # The one that cannot move pushes the next, which pushes the third.
    reviews = [waiting(1, 1, 1, 1), waiting(2, 1, 1, 8), waiting(3, 8, 8, 15)]
    answer = level(reviews, {day(1): 1, day(8): 1, day(15): 1})
    assert answer.days == {1: day(1), 2: day(8), 3: day(15)}
    assert answer.is_feasible


def test_the_nearest_day_to_due_is_taken_among_equal_numbers_of_moves() -> None:
    reviews = [waiting(1, 0, 5, 20, proposed=6), waiting(2, 0, 5, 20, proposed=6)]
    answer = level(reviews, {day(6): 1, day(3): 1, day(12): 1})
    assert sorted(answer.days.values()) == [day(3), day(6)]


def test_a_review_proposed_on_a_day_without_clinic_moves() -> None:
    review = waiting(1, 0, 5, 20)
    assert level([review], {day(6): 1, day(3): 1}).days == {1: day(6)}


def test_what_is_short_is_said_with_its_days_and_by_how_much() -> None:
    crowd = [waiting(n, 0, 1, 6) for n in range(5)]
    apart = [waiting(10, 20, 22, 23), waiting(11, 16, 22, 30)]
    free = {day(1): 2, day(3): 1, day(22): 1, day(29): 4}
    answer = level([*crowd, *apart], free)
    assert len(answer.left) == 2
    (short,) = answer.shortages
    assert (short.days, short.free, short.reviews, short.short) == ((day(1), day(3)), 3, 5, 2)
    assert answer.days[10] == day(22)
    assert answer.days[11] == day(29)


def test_windows_without_any_clinic_day_are_told_apart() -> None:
    reviews = [waiting(1, 2, 2, 2), waiting(2, 4, 4, 4), waiting(3, 8, 8, 8), waiting(4, 8, 8, 8)]
    answer = level(reviews, {day(8): 1})
    assert [(one.days, one.short) for one in answer.shortages] == [((), 2), ((day(8),), 1)]


def test_two_shortages_far_apart_are_two() -> None:
    reviews = [*(waiting(n, 0, 1, 2) for n in range(3)), *(waiting(n, 20, 21, 22) for n in (7, 8))]
    answer = level(reviews, {day(1): 1, day(21): 1, day(10): 9})
    assert [(one.days, one.short) for one in answer.shortages] == [((day(1),), 2), ((day(21),), 1)]


def test_without_reviews_or_days_nothing_is_asked() -> None:
    assert level([], {day(1): 3}) == Levelled()
    assert level([waiting(1, 0, 1, 2)], {}).left == (1,)


@pytest.mark.parametrize(
    ("reviews", "free", "words"),
    [
        ([Waiting(1, day(3), day(2), day(4), day(3))], {}, "not in order"),
        ([waiting(1, 0, 1, 2), waiting(1, 0, 1, 2)], {}, "given twice"),
        ([], {day(0): -1}, "-1 free slots"),
    ],
)
def test_a_senseless_question_is_refused(
    reviews: list[Waiting], free: dict[date, int], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        level(reviews, free)


@settings(max_examples=150, deadline=None)
@given(problems(most=5, horizon=9))
def test_no_other_way_is_better_when_all_are_tried(
    problem: tuple[list[Waiting], dict[date, int]],
) -> None:
    reviews, free = problem
    answer = level(reviews, free)
    check(reviews, free, answer)
    assert price(reviews, answer) == by_trying(reviews, free)


@settings(max_examples=60, deadline=None)
@given(problems(most=30, horizon=25))
def test_a_reference_solver_finds_nothing_better(
    problem: tuple[list[Waiting], dict[date, int]],
) -> None:
    reviews, free = problem
    answer = level(reviews, free)
    check(reviews, free, answer)
    assert price(reviews, answer) == by_assignment(reviews, free)


@pytest.mark.parametrize("seed", range(6))
def test_a_crowded_service_costs_what_two_other_solvers_say(seed: int) -> None:
    reviews, free = crowded(np.random.default_rng(seed), 120)
    answer = level(reviews, free)
    check(reviews, free, answer)
    assert price(reviews, answer) == by_assignment(reviews, free) == by_integers(reviews, free)


def crowded(draw: np.random.Generator, number: int) -> tuple[list[Waiting], dict[date, int]]:
    """Return a service whose first weeks are overbooked, with two clinic days a week."""
    held = [week * 7 + weekday for week in range(8) for weekday in (1, 3)]
    reviews = []
    for key in range(number):
        due = min(int(draw.integers(56)), int(draw.integers(56)))
        opens, closes = due - int(draw.integers(15)), due + int(draw.integers(22))
        inside = [n for n in held if opens <= n <= closes]
        nearest = min(inside, key=lambda n: abs(n - due), default=due)
        reviews.append(waiting(key, opens, due, closes, nearest))
    return reviews, {day(n): int(draw.integers(number // 8)) for n in held}


def test_the_same_question_has_the_same_answer_in_any_order() -> None:
    reviews, free = crowded(np.random.default_rng(7), 80)
    turned = dict(reversed(free.items()))
    assert level(reviews, free) == level(reviews[::-1], turned)
