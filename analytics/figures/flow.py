"""The flow from operated to analysed, as it is drawn and in words."""

from dataclasses import dataclass

from analytics.answers.flow import WITHDREW, Flow, Part
from analytics.answers.outcomes import percent


@dataclass(frozen=True)
class Box:
    """One stage as drawn: its number, the share of those operated, and those who left after it."""

    part: Part
    share: str
    left: tuple[Part, ...]

    @property
    def gone(self) -> int:
        """How many left between this stage and the next."""
        return sum(part.number for part in self.left)


def boxes(found: Flow) -> tuple[Box, ...]:
    """Return the stages from top to bottom."""
    operated = found.stages[0].part.number
    return tuple(
        Box(
            stage.part,
            percent(stage.part.number / operated) if operated else "",
            stage.left,
        )
        for stage in found.stages
    )


def withdrew_words(found: Flow) -> str:
    """Say how many operations are not in a flow at all, because their patients withdrew; '' for none."""
    return f"{found.withdrew} {WITHDREW} and are in no figure" if found.withdrew else ""


def flow_words(found: Flow) -> str:
    """State every number of the diagram in one paragraph."""
    sentences = []
    for box in boxes(found):
        left = "; ".join(f"{part.number} {part.words}" for part in box.left)
        gone = f", of whom {box.gone} went no further ({left})" if left else ""
        sentences.append(f"{box.part.words}: {box.part.number}{gone}.")
    ends = ", ".join(f"{part.number} {part.words}" for part in found.ends)
    if found.withdrew:
        sentences.insert(0, f"{withdrew_words(found)}.")
    closing = f" Of those analysed, {ends}." if ends else ""
    return f"By {found.horizon.name}. {' '.join(sentences)}{closing}"
