"""A motion exam against the milestones of its week and against the uninjured side.

Two examiners of one shoulder differ by up to about 20 degrees: limits of agreement are 19.6 degrees
for abduction and 18.8 for external rotation (de Winter et al., BMC Musculoskelet Disord 2004), and the
standard error of a goniometer is 14 to 25 degrees (Hayes et al., Aust J Physiother 2001). So what lies
within ERROR_DEG of the other side is not called behind, and a shortfall below DOUBTFUL_DEG says so.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from followup.rules.step_milestones import MODES, MOVEMENTS, Milestone
from followup.rules.windows import Window

ERROR_DEG = 20
DOUBTFUL_DEG = 25


class Verdict(StrEnum):
    """What an exam says of one milestone."""

    REACHED = "reached"
    BEHIND = "behind"
    WITHIN_ERROR = "within measurement error of the other side"
    ABOVE_LIMIT = "above the limit"
    NOT_EVALUABLE = "not evaluable"


@dataclass(frozen=True)
class Measured:
    """One side's motion of one day and mode, degrees by movement; what was not measured is left out."""

    on: date
    mode: str
    degrees: Mapping[str, int]


@dataclass(frozen=True)
class OtherSide:
    """The other shoulder: whether it can stand for a normal one, and what was measured of it."""

    uninjured: bool
    measured: Sequence[Measured] = ()

    @property
    def why_none(self) -> str:
        """Say why an angle is not there."""
        if not self.uninjured:
            return "the other side is not known to be uninjured"
        return "the other side was not measured"

    def angle(self, movement: str, mode: str, day: date) -> tuple[int, date] | None:
        """Return its last angle up to a day with that day; None where it is no reference."""
        found = [
            (one.on, one.degrees[movement])
            for one in self.measured
            if one.mode == mode and movement in one.degrees and one.on <= day
        ]
        if not self.uninjured or not found:
            return None
        on, degrees = max(found)
        return degrees, on


@dataclass(frozen=True)
class StepMilestones:
    """One step of a schedule: its name, its window for this patient, and its milestones."""

    name: str
    window: Window
    milestones: tuple[Milestone, ...]


@dataclass(frozen=True)
class Schedule:
    """The steps that follow one operation."""

    operated_on: date
    steps: tuple[StepMilestones, ...]


@dataclass(frozen=True)
class Assessment:
    """What the exams of a day say of one milestone, with the numbers, whole degrees."""

    step: str
    milestone: Milestone
    verdict: Verdict
    on: date
    found_deg: int | None = None
    other_deg: int | None = None
    other_on: date | None = None
    reason: str = ""

    @property
    def needs_attention(self) -> bool:
        """Whether the surgeon is to be told at once."""
        return self.verdict in (Verdict.BEHIND, Verdict.ABOVE_LIMIT)

    @property
    def sentence(self) -> str:
        """Say the verdict with its numbers."""
        if self.verdict == Verdict.NOT_EVALUABLE:
            return f"{self.step}, {self.milestone.words}: not evaluable; {self.reason}"
        motion = f"{MODES[self.milestone.mode]} {MOVEMENTS[self.milestone.movement]}"
        if self.verdict == Verdict.ABOVE_LIMIT:
            bound = f"allowed up to {self.milestone.at_most_deg} degrees"
        elif self.milestone.at_least_deg is not None:
            bound = f"needed {self.milestone.at_least_deg} degrees"
        else:
            bound = f"allowed up to {self.milestone.at_most_deg} degrees"
        return (
            f"{self.step}, {motion}: {self.verdict}; {bound}, found {self.found_deg}"
            f"{self._beside()}{self._doubt()}"
        )

    def _beside(self) -> str:
        """Name the other side's angle; whoever is behind is told also why there is none."""
        if self.other_deg is not None:
            return f", other side {self.other_deg} ({_day(self.other_on)})"
        return f" ({self.reason})" if self.reason and self.verdict == Verdict.BEHIND else ""

    def _doubt(self) -> str:
        """Say when a difference is smaller than two examiners can tell apart."""
        if self.found_deg is None or not self.needs_attention:
            return ""
        bound = (
            self.milestone.at_most_deg
            if self.verdict == Verdict.ABOVE_LIMIT
            else self.milestone.at_least_deg
        )
        if bound is None or abs(self.found_deg - bound) >= DOUBTFUL_DEG:
            return ""
        return (
            f" (two examiners can differ by {ERROR_DEG} to {DOUBTFUL_DEG} degrees; measure again "
            "before it decides anything)"
        )


def step_at(day: date, schedules: Iterable[Schedule]) -> StepMilestones | None:
    """Return the step that a day belongs to: its window holds it, else the last that has opened.

    The schedule is that of the last operation up to the day. None before the first step opens.
    """
    begun = [one for one in schedules if one.operated_on <= day and one.steps]
    if not begun:
        return None
    steps = max(begun, key=lambda one: one.operated_on).steps
    holding = [step for step in steps if step.window.holds(day)]
    opened = [step for step in steps if step.window.opens_on <= day]
    if holding:
        return max(holding, key=lambda step: step.window.opens_on)
    return max(opened, key=lambda step: step.window.opens_on, default=None)


def assess(
    exams: Sequence[Measured], schedules: Iterable[Schedule], other: OtherSide
) -> tuple[Assessment, ...]:
    """Compare the exams of one side and day, active and passive, with the milestones of their week.

    Raises ValueError when the exams are of different days.
    """
    if not exams:
        return ()
    days = {exam.on for exam in exams}
    if len(days) > 1:
        raise ValueError(f"exams of {len(days)} days were given; milestones are judged day by day")
    day = days.pop()
    step = step_at(day, schedules)
    if step is None:
        return ()
    return tuple(_judge(step.name, one, day, exams, other) for one in step.milestones)


def _judge(
    step: str, milestone: Milestone, day: date, exams: Sequence[Measured], other: OtherSide
) -> Assessment:
    low, high = milestone.at_least_deg, milestone.at_most_deg
    if low is None and high is None:
        return Assessment(
            step, milestone, Verdict.NOT_EVALUABLE, day, reason="a rule in words, without degrees"
        )
    found, reason = _found(milestone, exams)
    if found is None:
        return Assessment(step, milestone, Verdict.NOT_EVALUABLE, day, reason=reason)
    beside = other.angle(milestone.movement, milestone.mode, day)
    verdict = _verdict(found, low, high, None if beside is None else beside[0])
    if beside is None:
        return Assessment(step, milestone, verdict, day, found, reason=other.why_none)
    return Assessment(step, milestone, verdict, day, found, *beside)


def _found(milestone: Milestone, exams: Sequence[Measured]) -> tuple[int | None, str]:
    """Return the angle that a milestone is about, or why there is none.

    An arm that gets somewhere actively can be brought there passively: where passive motion was not
    measured, active motion shows that a passive milestone is reached, or a passive limit passed.
    """
    by_mode = {exam.mode: exam.degrees.get(milestone.movement) for exam in exams}
    found = by_mode.get(milestone.mode)
    if found is not None:
        return found, ""
    missing = f"{MODES[milestone.mode]} {MOVEMENTS[milestone.movement]} was not measured"
    active = by_mode.get("active")
    if milestone.mode == "passive" and active is not None:
        low, high = milestone.at_least_deg, milestone.at_most_deg
        if (high is not None and active > high) or (
            low is not None and high is None and active >= low
        ):
            return active, ""
    return None, missing


def _verdict(found: int, low: int | None, high: int | None, other: int | None) -> Verdict:
    if high is not None and found > high:
        return Verdict.ABOVE_LIMIT
    if low is None or found >= low:
        return Verdict.REACHED
    if other is not None and other - found < ERROR_DEG:
        return Verdict.WITHIN_ERROR
    return Verdict.BEHIND


def _day(day: date | None) -> str:
    return "" if day is None else f"{day:%d %b %Y}"
