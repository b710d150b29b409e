"""A motion exam beside the uninjured shoulder, movement by movement."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from followup.rules.milestones import ERROR_DEG, Measured, OtherSide
from followup.rules.step_milestones import MODES, MOVEMENTS


@dataclass(frozen=True)
class SideDifference:
    """One movement of the injured side and of the other one, whole degrees, with the other's day."""

    movement: str
    mode: str
    found_deg: int
    other_deg: int
    other_on: date

    @property
    def less_deg(self) -> int:
        """By how many degrees the injured side falls short; negative where it goes further."""
        return self.other_deg - self.found_deg

    @property
    def is_behind(self) -> bool:
        """Whether it falls short by more than two examiners of one shoulder differ."""
        return self.less_deg >= ERROR_DEG

    @property
    def sentence(self) -> str:
        """Say both numbers and what their difference means."""
        both = (
            f"{MODES[self.mode]} {MOVEMENTS[self.movement]} {self.found_deg}, other side "
            f"{self.other_deg} ({self.other_on:%d %b %Y}): "
        )
        if self.is_behind:
            return f"{both}{self.less_deg} degrees behind"
        if abs(self.less_deg) < ERROR_DEG:
            return f"{both}within measurement error ({ERROR_DEG} degrees)"
        return f"{both}{-self.less_deg} degrees further"


def beside(exams: Sequence[Measured], other: OtherSide) -> tuple[SideDifference, ...]:
    """Compare the exams of one side and day with the last of the other side up to that day.

    Nothing where the other side is no reference, or was not measured in the same way.
    """
    found = []
    for exam in exams:
        for movement in MOVEMENTS:
            angle = other.angle(movement, exam.mode, exam.on)
            if angle is not None and movement in exam.degrees:
                found.append(SideDifference(movement, exam.mode, exam.degrees[movement], *angle))
    return tuple(found)
