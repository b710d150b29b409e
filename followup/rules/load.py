"""Levelling a clinic: every waiting review on a day with room inside its window, moving few.

The problem is a transportation problem: reviews are the supplies, clinic days with their free slots
the demands. It is solved exactly, in whole numbers, as a flow of least cost.

References
----------
Successive shortest paths for a flow of least cost: Ahuja, Magnanti and Orlin, Network Flows (1993),
section 9.7. That the days which a maximal flow cannot leave prove the shortage: Hall, J London Math
Soc 1935;10:26-30. Both from memory.
"""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]
# Beyond every sum of costs, and twice it still fits into 64 bits.
NEVER = 2**60


@dataclass(frozen=True)
class Waiting:
    """A review that needs a slot: its key, window and the day that is proposed now."""

    key: int
    opens_on: date
    due_on: date
    closes_on: date
    proposed_on: date


@dataclass(frozen=True)
class Shortage:
    """Days that are too few: `reviews` can be seen on them only, and they have `free` slots.

    Without days, the windows of these reviews hold no clinic day with a free slot.
    """

    days: tuple[date, ...]
    free: int
    reviews: int

    @property
    def short(self) -> int:
        """How many slots are missing."""
        return self.reviews - self.free


@dataclass(frozen=True)
class Levelled:
    """The day of each review that has one, the keys of those without, and why these have none."""

    days: Mapping[int, date] = field(default_factory=dict)
    left: tuple[int, ...] = ()
    shortages: tuple[Shortage, ...] = ()

    @property
    def is_feasible(self) -> bool:
        """Whether every review has a day."""
        return not self.left


def level(reviews: Sequence[Waiting], free: Mapping[date, int]) -> Levelled:
    """Give each review a clinic day inside its window, no day more reviews than its free slots.

    `free` holds the free slots of each clinic day. As many reviews as possible get a day; among all
    such answers the one that moves fewest from the day proposed now; among these the one with the
    smallest sum of days between given and due. Ties fall by the order of keys and days, so that
    the same question has the same answer.

    Raises ValueError for a window out of order, a key given twice, or fewer than no free slots.
    """
    _check(reviews, free)
    ordered = sorted(reviews, key=lambda review: review.key)
    days = sorted(day for day, slots in free.items() if slots > 0)
    if not ordered:
        return Levelled()
    flow = _Flow(_costs(ordered, days), [free[day] for day in days])
    flow.settle_where_wanted([_place(days, review.proposed_on) for review in ordered])
    flow.settle_the_rest()
    given = {
        review.key: days[at]
        for review, at in zip(ordered, flow.at, strict=True)
        if at != flow.nowhere
    }
    left = tuple(review.key for review in ordered if review.key not in given)
    return Levelled(given, left, flow.shortages(days))


def moves(reviews: Sequence[Waiting], answer: Levelled) -> dict[int, date]:
    """Return the new day of each review whose day changes, by key."""
    now = {review.key: review.proposed_on for review in reviews}
    return {key: day for key, day in sorted(answer.days.items()) if day != now[key]}


def _check(reviews: Sequence[Waiting], free: Mapping[date, int]) -> None:
    if len({review.key for review in reviews}) != len(reviews):
        raise ValueError("a review is given twice; every key has to be one review's")
    for review in reviews:
        if not review.opens_on <= review.due_on <= review.closes_on:
            raise ValueError(
                f"review {review.key}: {review.opens_on}, {review.due_on}, {review.closes_on} "
                "are not in order"
            )
    for day, slots in free.items():
        if slots < 0:
            raise ValueError(f"{day} has {slots} free slots; it takes 0 or more")


def _place(days: Sequence[date], day: date) -> int:
    """Return the column of a day, -1 when it has no room."""
    try:
        return days.index(day)
    except ValueError:
        return -1


def _costs(reviews: Sequence[Waiting], days: Sequence[date]) -> Whole:
    """Return the cost of each review on each day, and in the last column of having none.

    One move outweighs every sum of days, and one review left out every sum of moves.
    """
    number = np.array([day.toordinal() for day in days], dtype=np.int64)
    columns = [
        np.array([getattr(one, name).toordinal() for one in reviews], dtype=np.int64)[:, None]
        for name in ("opens_on", "due_on", "closes_on", "proposed_on")
    ]
    opens, due, closes, proposed = columns
    inside = (number >= opens) & (number <= closes)
    distance = np.abs(number - due)
    furthest = int(distance[inside].max(initial=0))
    move = len(reviews) * furthest + 1
    leave = len(reviews) * (move + furthest) + 1
    cost = np.where(inside, distance + move * (number != proposed), NEVER)
    return np.concatenate([cost, np.full((len(reviews), 1), leave, dtype=np.int64)], axis=1)


class _Flow:
    """Reviews on days, always at the least cost for those that are settled so far."""

    def __init__(self, cost: Whole, slots: Sequence[int]) -> None:
        number, columns = cost.shape
        self.cost = cost
        self.nowhere = columns - 1
        self.room = [*slots, number]
        self.at = [-1] * number
        self.there: list[list[int]] = [[] for _ in range(columns)]
        # What the cheapest move of one review from one day to another adds, and whose it is.
        self.price = np.full((columns, columns), NEVER, dtype=np.int64)
        self.mover = np.full((columns, columns), -1, dtype=np.int64)

    def settle_where_wanted(self, wanted: Sequence[int]) -> None:
        """Leave every review where it is proposed while there is room: its own cheapest day."""
        for review, day in enumerate(wanted):
            if day >= 0 and self.cost[review, day] < NEVER and self.room[day] > 0:
                self._put(review, day)
        for day in range(len(self.there)):
            self._price(day)

    def settle_the_rest(self) -> None:
        """Settle the others one by one, each along the cheapest chain of moves that makes room."""
        for review, day in enumerate(self.at):
            if day < 0:
                self._settle(review)

    def shortages(self, days: Sequence[date]) -> tuple[Shortage, ...]:
        """Return the days that are too few for those left out, each set as small as it can be.

        From the days of a review that was left out, follow every move that another could make: all
        days that are reached are full, and nobody on them can go elsewhere.
        """
        left = self.there[self.nowhere]
        groups: list[tuple[set[int], int]] = []
        for review in left:
            reached, number = self._reached(review), 1
            apart = []
            for others, count in groups:
                if others & reached or not (others or reached):
                    reached, number = reached | others, number + count
                else:
                    apart.append((others, count))
            groups = [*apart, (reached, number)]
        found = [
            Shortage(
                tuple(days[day] for day in sorted(group)),
                sum(len(self.there[day]) for day in group),
                sum(len(self.there[day]) for day in group) + count,
            )
            for group, count in groups
        ]
        return tuple(sorted(found, key=lambda one: one.days))

    def _reached(self, review: int) -> set[int]:
        waiting = [int(day) for day in np.flatnonzero(self.cost[review, :-1] < NEVER)]
        reached = set(waiting)
        while waiting:
            onward = np.flatnonzero(self.price[waiting.pop(), :-1] < NEVER // 2)
            new = {int(day) for day in onward} - reached
            reached |= new
            waiting.extend(new)
        return reached

    def _settle(self, review: int) -> None:
        reach, before = self._cheapest(review)
        end = min(
            (day for day, room in enumerate(self.room) if room > 0),
            key=lambda day: int(reach[day]),
        )
        way = [end]
        while before[way[-1]] >= 0:
            way.append(int(before[way[-1]]))
        # From the free end backwards: whoever moves on makes room for who comes after.
        for target, source in itertools.pairwise(way):
            moving = int(self.mover[source, target])
            self.there[source].remove(moving)
            self.room[source] += 1
            self._put(moving, target)
        self._put(review, way[-1])
        for day in way:
            self._price(day)

    def _cheapest(self, review: int) -> tuple[Whole, Whole]:
        """Return what it costs until a place on each day is taken, and the day before it (-1: none).

        Bellman and Ford, all days at once; the prices hold no circle that would save anything.
        """
        reach = self.cost[review].copy()
        before = np.full(len(reach), -1, dtype=np.int64)
        while True:
            by_way = np.minimum(reach[:, None] + self.price, NEVER)
            better = by_way.min(axis=0) < reach
            if not better.any():
                return reach, before
            before[better] = by_way.argmin(axis=0)[better]
            reach = np.where(better, by_way.min(axis=0), reach)

    def _put(self, review: int, day: int) -> None:
        self.there[day].append(review)
        self.at[review] = day
        self.room[day] -= 1

    def _price(self, day: int) -> None:
        """Work out again what moving one review away from a day would add."""
        self.price[day] = NEVER
        on_it = sorted(self.there[day])
        if on_it:
            costs = self.cost[on_it]
            added = np.where(costs < NEVER, costs - costs[:, [day]], NEVER)
            cheapest = added.argmin(axis=0)
            self.price[day] = added[cheapest, np.arange(added.shape[1])]
            self.mover[day] = np.array(on_it, dtype=np.int64)[cheapest]
        self.price[day, day] = NEVER
