"""Text alternatives: what a figure shows, in words."""

from itertools import combinations

from analytics.answers.outcomes import Answer, GroupRow, percent
from analytics.estimators.results import Estimate

MOST_PAIRS = 3


def forest_words(result: Answer) -> str:
    """State each group's rate with its interval, in the order of the figure, and what overlaps."""
    rows = [row for row in (*result.rows, result.total) if row.rate is not None]
    if not rows:
        return "No group can be judged at this horizon yet."
    parts = [
        f"{row.group}: {row.events} of {row.evaluable}, {_interval(row.rate)}"
        for row in rows
        if row.rate is not None
    ]
    listed = f"Rates by {result.horizon.name} with 95% intervals. " + "; ".join(parts) + "."
    groups = [row for row in rows if row is not result.total]
    return f"{listed} {_overlap(groups)}".strip()


def curve_words(result: Answer) -> str:
    """State each curve's height at the horizon with its interval, and how far the curves go."""
    parts = [
        f"{row.group} {_interval(row.incidence.estimate)}, {row.incidence.at_risk} still at risk"
        for row in result.rows
        if row.incidence.estimate is not None
    ]
    if not any(len(curve.days) > 1 for curve in result.curves):
        return "No curve can be drawn: too few cases have been followed."
    heights = "; ".join(parts) if parts else "too few remain at risk in every group"
    return (
        "Cumulative incidence by the day on which the event was found, with competing events. "
        f"By {result.horizon.name}: {heights}. "
        f"Each curve ends where fewer than {result.min_at_risk} remain at risk."
    )


def _interval(estimate: Estimate) -> str:
    return f"{percent(estimate.estimate)} ({percent(estimate.low)} to {percent(estimate.high)})"


def _overlap(rows: list[GroupRow]) -> str:
    """Say which intervals stand apart; that is no test, and no ranking."""
    if len(rows) < 2:
        return ""
    apart = [
        f"{one.group} and {two.group}"
        for one, two in combinations(rows, 2)
        if one.rate is not None
        and two.rate is not None
        and (one.rate.high < two.rate.low or two.rate.high < one.rate.low)
    ]
    if not apart:
        return (
            "The intervals of all groups overlap, which does not show that their rates are alike."
        )
    if len(apart) > MOST_PAIRS:
        return f"{len(apart)} pairs of groups have intervals that do not overlap."
    return "Intervals that do not overlap: " + "; ".join(apart) + "."
