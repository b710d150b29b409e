"""The steps of a protocol in words, and what one version changes against another."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from followup.rules import requirements, step_milestones

HORIZONS = {
    "6w": "6 weeks",
    "3m": "3 months",
    "6m": "6 months",
    "12m": "12 months",
    "24m": "24 months",
}


@dataclass(frozen=True)
class StepFacts:
    """One timepoint as a version keeps it; views, sides, instruments and the horizon by code."""

    code: str
    name: str
    offset_value: int
    offset_unit: str
    window_before_days: int
    window_after_days: int
    film_views: tuple[str, ...] = ()
    film_sides: Mapping[str, str] = field(default_factory=dict)
    motion: bool = False
    scores: tuple[str, ...] = ()
    wound_check: bool = False
    complication_screen: bool = False
    free_items: Sequence[Mapping[str, str]] = ()
    milestones: Sequence[Mapping[str, Any]] = ()
    horizon: str = ""
    source_note: str = ""


@dataclass(frozen=True)
class StepWords:
    """One timepoint as a person reads it."""

    code: str
    name: str
    when: str
    window: str
    collects: str
    milestones: str
    horizon: str
    source: str


@dataclass(frozen=True)
class StepChange:
    """What a later version changes: `label` says where, `before` and `after` are in words."""

    label: str
    before: str
    after: str


LABELS = {
    "name": "name",
    "when": "when",
    "window": "window",
    "collects": "collects",
    "milestones": "milestones",
    "horizon": "counts for",
    "source": "source",
}


def in_words(step: StepFacts) -> StepWords:
    """Write a step the way a person says it."""
    return StepWords(
        code=step.code,
        name=step.name,
        when=_count(step.offset_value, step.offset_unit.removesuffix("s")),
        window=_window(step.window_before_days, step.window_after_days),
        collects=", ".join(_collected(step)) or "nothing",
        milestones="; ".join(_milestones(step)) or "none",
        horizon=HORIZONS.get(step.horizon, "no horizon"),
        source=step.source_note or "not given",
    )


def differences(earlier: Sequence[StepFacts], later: Sequence[StepFacts]) -> tuple[StepChange, ...]:
    """Return what the later steps add, take away and change; steps are the same by their code."""
    before = {step.code: in_words(step) for step in earlier}
    after = {step.code: in_words(step) for step in later}
    changes = [
        StepChange(step.name, "no such step", _whole(step))
        for code, step in after.items()
        if code not in before
    ]
    for code, was in before.items():
        if code not in after:
            changes.append(StepChange(was.name, _whole(was), "no such step"))
            continue
        now = after[code]
        changes.extend(
            StepChange(f"{now.name}: {label}", getattr(was, part), getattr(now, part))
            for part, label in LABELS.items()
            if getattr(was, part) != getattr(now, part)
        )
    return tuple(changes)


def _whole(step: StepWords) -> str:
    return f"{step.when}, {step.window}; {step.collects}"


def _count(number: int, unit: str) -> str:
    return f"{number} {unit}{'' if number == 1 else 's'}"


def _window(before: int, after: int) -> str:
    if not before and not after:
        return "on the day itself"
    return f"{_count(before, 'day')} before to {_count(after, 'day')} after"


def _collected(step: StepFacts) -> list[str]:
    wanted = requirements.wanted_of(step)
    return requirements.listed(requirements.items(wanted), wanted.free_items)


def _milestones(step: StepFacts) -> list[str]:
    return [step_milestones.in_words(one) for one in step_milestones.milestones_of(step.milestones)]
