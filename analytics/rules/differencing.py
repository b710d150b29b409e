"""Whether two tables that left the team give a few people away when one is taken from the other.

A population is the set of patients that one line of a table is about. Two of them that differ by 1 to 7
patients tell, by subtraction, everything of those few that the tables count; so do three of which two
together are the third but for so few. Rounding alone does not mend that: it blurs each number by two,
and says of whom they are all the same. Populations of up to 7 are hidden in every table, and give
nothing to subtract.
"""

from collections.abc import Collection, Sequence
from itertools import combinations

from analytics.rules.suppression import HIDE_UP_TO

Population = frozenset[str]
REASON = (
    f"it differs by 1 to {HIDE_UP_TO} patients from what left the team before, so that one taken from the "
    "other would tell of those few"
)


def is_few(number: int) -> bool:
    """Say whether so many patients are some, and too few to be told of."""
    return 1 <= number <= HIDE_UP_TO


def gives_away(mine: Population, earlier: Collection[Population]) -> bool:
    """Say whether a population, beside those that left before, lets a few people be told by subtraction."""
    others = _Masks([mine, *earlier])
    new, *old = others.masks
    if any(is_few((new ^ one).bit_count()) for one in old):
        return True
    inside = [one for one in old if one & ~new == 0 and one != new]
    around = [one for one in old if new & ~one == 0 and one != new]
    # Two parts of mine leave a few; or mine and another part leave a few of a third.
    if any(_leaves_few(new, one, two) for one, two in combinations(inside, 2)):
        return True
    return any(
        _leaves_few(whole, new, part)
        for whole in around
        for part in old
        if part & ~whole == 0 and part != whole
    )


def _leaves_few(whole: int, one: int, two: int) -> bool:
    return one & two == 0 and is_few((whole & ~(one | two)).bit_count())


class _Masks:
    """Sets as numbers, a bit for each member: a thousand of them are compared at once."""

    def __init__(self, sets: Sequence[Population]) -> None:
        places: dict[str, int] = {}
        self.masks = []
        for members in sets:
            mask = 0
            for member in members:
                mask |= 1 << places.setdefault(member, len(places))
            self.masks.append(mask)
