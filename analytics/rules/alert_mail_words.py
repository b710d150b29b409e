"""What an e-mail about reductions that may be lost says: counts and a link, and no patient."""

from collections.abc import Sequence

LOST, NEAR = "lost", "near"


def subject(levels: Sequence[str]) -> str:
    """Return the subject of an e-mail about alerts of some levels.

    Raises ValueError for none: such an e-mail does not go.
    """
    if not levels:
        raise ValueError("an e-mail about no alert says nothing")
    number = len(levels)
    if number == 1:
        return "A reduction may be lost" if levels[0] == LOST else "A reduction to look at"
    return f"{number} reductions to look at"


def body(levels: Sequence[str], site: str, address: str) -> str:
    """Return the text of an e-mail: how many at which site, and where they wait.

    Raises ValueError for no alert.
    """
    if not levels:
        raise ValueError("an e-mail about no alert says nothing")
    lines = [
        f"{site}, by films that were read since you were last told:",
        *_counts(levels),
        "",
        f"Both films beside each other, and your plan: {address}",
        "",
        "Each is told once by e-mail, and waits on that page until it is planned.",
        "How often you are told is set there.",
    ]
    return "\n".join(lines)


def _counts(levels: Sequence[str]) -> list[str]:
    said = {
        LOST: "lost by the definition of the site",
        NEAR: "within measurement error of being lost",
    }
    return [
        f"- {number} {words}"
        for level, words in said.items()
        if (number := sum(one == level for one in levels))
    ]
