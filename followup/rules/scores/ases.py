"""The ASES score from pain and ten numbered function items.

References: Richards et al., J Shoulder Elbow Surg 1994;3:347: half the score is pain, half function.
"""

from followup.rules.scores.result import Item, ScoreResult, no_number, numbered, outside

# Ten function items as numbered in print; pain, printed before them, is given the next number.
PAIN = 11
ITEMS = (*numbered(10, 0, 3), Item(PAIN, 0, 10, whole=False, words="Pain, 0 none to 10"))


def ases(pain: float | None, items: dict[int, float]) -> ScoreResult:
    """Return (10 - pain) x 5 + sum of items (0 to 3) x 5/3, 0 to 100 (best).

    Pain and all ten items are needed: the original states no rule for missing ones.
    """
    if pain is None:
        return no_number("pain was not answered")
    if not 0 <= pain <= 10:
        return no_number(f"pain is {pain:g}; it goes from 0 to 10")
    stray = [number for number in items if not 1 <= number <= 10]
    if stray:
        return no_number(f"there is no item {stray[0]}; items go from 1 to 10, pain is item {PAIN}")
    if len(items) < 10:
        return no_number(f"{len(items)} of 10 items answered; all are needed")
    fault = outside(items, 0, 3)
    if fault:
        return no_number(fault)
    return ScoreResult((10 - pain) * 5 + sum(items.values()) * 5 / 3)


def from_numbers(items: dict[int, float]) -> ScoreResult:
    """Return the ASES from items 1 to 10 (function) and 11 (pain)."""
    return ases(items.get(PAIN), {n: answer for n, answer in items.items() if n != PAIN})
