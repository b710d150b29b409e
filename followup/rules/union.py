"""What a site's own rule makes of bridged cortices and the fracture line.

Bridging of two to three of four cortices, or no fracture line, is asked for in practice (from memory);
that three are needed and no line may be seen is what is shipped (common practice, no source).
"""

from dataclasses import dataclass

CORTICES = 4
SHIPPED_MIN = 3
VISIBLE, NOT_VISIBLE = "visible", "not_visible"
WORDS = {"none": "not united", "partial": "partly united", "united": "united"}


@dataclass(frozen=True)
class UnionByRule:
    """What the rule proposes: 'none', 'partial' or 'united', and why, in words."""

    union: str
    why: str

    @property
    def words(self) -> str:
        """The proposal as a page prints it."""
        return WORDS[self.union]


def proposed(cortices: int | None, line: str, *, least: int) -> UnionByRule | None:
    """Return what a site's rule makes of a film; None where its cortices cannot be counted.

    `cortices` are those bridged, of four; `line` is 'visible', 'not_visible' or another word for
    not known; `least` is how many have to be bridged. A line that is still seen leaves the fracture
    partly united however many are bridged. No bridging without a line is left to the reader: so
    heals what was fixed without a gap. Raises ValueError for a count that is impossible.
    """
    if not 1 <= least <= CORTICES:
        raise ValueError(f"{least} cortices cannot be asked for; there are {CORTICES}")
    if cortices is None:
        return None
    if not 0 <= cortices <= CORTICES:
        raise ValueError(f"{cortices} cortices cannot be bridged; there are {CORTICES}")
    if cortices == 0:
        return None if line == NOT_VISIBLE else UnionByRule("none", "no cortex is bridged")
    why = f"{cortices} of {CORTICES} cortices bridged, {least} asked for"
    if cortices < least:
        return UnionByRule("partial", why)
    if line == VISIBLE:
        return UnionByRule("partial", f"{why}, and the fracture line is still seen")
    return UnionByRule("united", why)


def disagreement(stated: str, by_rule: UnionByRule | None) -> str:
    """Return how a reader's union differs from the site's rule, in words; '' where it does not.

    A reader who cannot judge union, or says that it does not apply, disagrees with nothing.
    """
    if by_rule is None or stated not in WORDS or stated == by_rule.union:
        return ""
    return f"by the site's rule {by_rule.words}: {by_rule.why}"
