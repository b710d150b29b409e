"""What the rate would be if those who could not be judged fared differently from those who were."""

from collections.abc import Sequence
from dataclasses import dataclass

from analytics.answers.outcomes import Answer, GroupRow
from analytics.estimators.completeness import Tipping, tipping_point

# How the unseen may have fared, from best to worst; a number multiplies the rate of those judged.
ALIKE: tuple[tuple[str, float], ...] = (
    ("fared like those judged", 1.0),
    ("had it twice as often", 2.0),
    ("had it three times as often", 3.0),
)


@dataclass(frozen=True)
class Supposition:
    """If so many of the unseen had the event, the rate over all eligible would be this."""

    words: str
    more: int
    rate: float
    exceeds: bool | None


@dataclass(frozen=True)
class GroupTipping:
    """One group: its counts and, with a target, from how many of the unseen on it is exceeded."""

    group: str
    eligible: int
    rate: float | None
    found: Tipping | None


@dataclass(frozen=True)
class TippingAnswer:
    """The suppositions for all together, and the tipping point of each group and of all."""

    target: float | None
    groups: tuple[GroupTipping, ...]
    suppositions: tuple[Supposition, ...]


def answer(result: Answer, target: float | None) -> TippingAnswer:
    """Return what the unseen could do to each rate of an answer; the target is a share.

    Raises ValueError for a target that is no share.
    """
    rows = (*result.rows, result.total)
    return TippingAnswer(
        target=target,
        groups=tuple(_group(row, target) for row in rows),
        suppositions=_suppositions(result.total, target),
    )


def _group(row: GroupRow, target: float | None) -> GroupTipping:
    rate = row.rate.estimate if row.rate else None
    found = None
    if row.eligible:
        # Without a target the bounds are still wanted; no rate exceeds 1.
        share = 1.0 if target is None else target
        found = tipping_point(row.events, row.evaluable, row.eligible, share)
    return GroupTipping(row.group, row.eligible, rate, found)


def _suppositions(row: GroupRow, target: float | None) -> tuple[Supposition, ...]:
    unseen = row.eligible - row.evaluable
    if not row.evaluable or not unseen:
        return ()
    share = row.events / row.evaluable
    supposed = [("had none", 0)]
    supposed += [(words, min(round(unseen * share * times), unseen)) for words, times in ALIKE]
    supposed += [("had it in every second case", round(unseen / 2)), ("all had it", unseen)]
    return tuple(_supposition(words, more, row, target) for words, more in supposed)


def _supposition(words: str, more: int, row: GroupRow, target: float | None) -> Supposition:
    rate = (row.events + more) / row.eligible
    exceeds = None
    if target is not None:
        at = tipping_point(row.events, row.evaluable, row.eligible, target).at
        exceeds = at is not None and more >= at
    return Supposition(words, more, rate, exceeds)


def to_rows(found: TippingAnswer) -> list[dict[str, object]]:
    """Return groups and suppositions as plain rows; shares, not percentages."""
    return [*_group_rows(found.groups, found.target), *_supposed_rows(found.suppositions)]


def group_rows(found: TippingAnswer) -> list[dict[str, object]]:
    """Return the groups that have somebody eligible as plain rows."""
    some = [one for one in found.groups if one.found]
    return _group_rows(some, found.target)


def _group_rows(groups: Sequence[GroupTipping], target: float | None) -> list[dict[str, object]]:
    return [
        {
            "group": one.group,
            "supposing": "",
            "events": one.found.events if one.found else None,
            "evaluable": one.found.evaluable if one.found else None,
            "eligible": one.eligible,
            "unseen": one.found.unseen if one.found else None,
            "rate": one.rate,
            "bound_low": one.found.bounds.low if one.found else None,
            "bound_high": one.found.bounds.high if one.found else None,
            "target": target,
            "exceeded_from": one.found.at if one.found and target is not None else None,
        }
        for one in groups
    ]


def _supposed_rows(found: Sequence[Supposition]) -> list[dict[str, object]]:
    return [
        {"group": "all", "supposing": one.words, "more_events": one.more, "rate": one.rate}
        for one in found
    ]
