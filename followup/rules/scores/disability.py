"""DASH and QuickDASH totals from numbered answers 1 to 5; no item wording is shipped.

References: Institute for Work & Health, scoring of the DASH and QuickDASH (2006): the mean of the
answered items less one, times 25; at least 27 of 30, or 10 of 11, must be answered.
"""

from followup.rules.scores.result import ScoreResult, no_number, numbered, outside

QUICKDASH_ITEMS = numbered(11, 1, 5)
DASH_ITEMS = numbered(30, 1, 5)
MODULE_ITEMS = numbered(4, 1, 5)


def quickdash(items: dict[int, float]) -> ScoreResult:
    """Return the QuickDASH, 0 (best) to 100, from items 1 to 11; needs at least 10 answers."""
    return _mean_score(items, count=11, needed=10)


def dash(items: dict[int, float]) -> ScoreResult:
    """Return the DASH, 0 (best) to 100, from items 1 to 30; needs at least 27 answers."""
    return _mean_score(items, count=30, needed=27)


def module(items: dict[int, float]) -> ScoreResult:
    """Return an optional module (work, or sport and music), 0 (best) to 100; needs all 4 answers."""
    return _mean_score(items, count=4, needed=4)


def _mean_score(items: dict[int, float], *, count: int, needed: int) -> ScoreResult:
    stray = [number for number in items if not 1 <= number <= count]
    if stray:
        return no_number(f"there is no item {stray[0]}; items go from 1 to {count}")
    fault = outside(items, 1, 5)
    if fault:
        return no_number(fault)
    if len(items) < needed:
        return no_number(f"{len(items)} of {count} items answered; at least {needed} are needed")
    return ScoreResult((sum(items.values()) / len(items) - 1) * 25)
