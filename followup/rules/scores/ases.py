"""The ASES score from pain and ten numbered function items.

References: Richards et al., J Shoulder Elbow Surg 1994;3:347: half the score is pain, half function.
"""

from followup.rules.scores.result import ScoreResult, no_number, outside


def ases(pain: float | None, items: dict[int, float]) -> ScoreResult:
    """Return (10 - pain) x 5 + sum of items (0 to 3) x 5/3, 0 to 100 (best).

    Pain and all ten items are needed: the original states no rule for missing ones.
    """
    if pain is None:
        return no_number("pain was not answered")
    if not 0 <= pain <= 10:
        return no_number(f"pain is {pain:g}; it goes from 0 to 10")
    if set(items) != set(range(1, 11)):
        return no_number(f"{len(items)} of 10 items answered; all are needed")
    fault = outside(items, 0, 3)
    if fault:
        return no_number(fault)
    return ScoreResult((10 - pain) * 5 + sum(items.values()) * 5 / 3)
