"""The Oxford Shoulder Score from twelve numbered answers; no item wording is shipped.

Two printed forms hold the same twelve questions. Since 2009 each answer counts 0 to 4 and the sum
goes from 0 to 48 (best); before, each counted 1 to 5, 1 the best, and the sum went from 60 to 12.

References: Dawson et al., Arch Orthop Trauma Surg 2009;129:119 (both forms, the change of scoring);
the conversion 60 - sum and the rule for missing answers are from memory.
"""

from followup.rules.scores.result import ScoreResult, no_number, numbered, outside

COUNT = 12
NEEDED = 10
ITEMS = numbered(COUNT, 0, 4)
OLDER_ITEMS = numbered(COUNT, 1, 5)


def oxford(items: dict[int, float]) -> ScoreResult:
    """Return the score, 0 to 48 (best), from answers 0 to 4.

    One or two missing answers count as the mean of the others; with more there is no total. This rule
    is from memory.
    """
    stray = [number for number in items if not 1 <= number <= COUNT]
    if stray:
        return no_number(f"there is no item {stray[0]}; items go from 1 to {COUNT}")
    fault = outside(items, 0, 4)
    if fault:
        return no_number(fault)
    if len(items) < NEEDED:
        return no_number(f"{len(items)} of {COUNT} items answered; at least {NEEDED} are needed")
    return ScoreResult(sum(items.values()) * COUNT / len(items))


def answer_of_older(answer: float) -> float:
    """Return an answer of the older form, 1 (best) to 5, as the present form counts it, 0 to 4."""
    return 5 - answer


def from_older_items(items: dict[int, float]) -> ScoreResult:
    """Return the score on the present scale from answers 1 (best) to 5 of the older form."""
    fault = outside({n: a for n, a in items.items() if 1 <= n <= COUNT}, 1, 5)
    if fault:
        return no_number(fault)
    return oxford({number: answer_of_older(answer) for number, answer in items.items()})


def from_older_total(total: float) -> ScoreResult:
    """Return a sum of the older form, 12 (best) to 60, on the present scale: 60 - sum."""
    if not COUNT <= total <= 5 * COUNT:
        return no_number(f"{total:g} is outside 12 to 60 of the older form")
    return ScoreResult(60 - total)
