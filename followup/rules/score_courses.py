"""One outcome instrument over time as a small chart, with the direction said in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from followup.rules.scores.catalogue import Instrument
from followup.rules.small_chart import Point, SmallChart, small_chart


@dataclass(frozen=True)
class Scored:
    """One value of an instrument, and whether the hardware was out by then."""

    on: date
    value: float
    hardware_out: bool = False


@dataclass(frozen=True)
class ScoreCourse:
    """One instrument's course: its chart, and the same in words."""

    code: str
    name: str
    direction: str
    chart: SmallChart | None
    words: str
    change: str


def score_course(
    instrument: Instrument, scores: Sequence[Scored], *, operated_on: date, today: date
) -> ScoreCourse:
    """Return the course of one instrument; the words say where the hardware was out by then."""
    ordered = sorted(scores, key=lambda one: one.on)
    chart = small_chart(
        [Point(one.on, one.value) for one in ordered],
        low=instrument.low,
        high=instrument.high,
        starts_on=min([operated_on, *(one.on for one in ordered)]),
        ends_on=today,
    )
    way = "lower is better" if instrument.lower_is_better else "higher is better"
    return ScoreCourse(
        instrument.code,
        instrument.name,
        f"{instrument.low:g} to {instrument.high:g}, {way}",
        chart,
        _words(instrument, ordered),
        _change(instrument, ordered),
    )


def _words(instrument: Instrument, scores: Sequence[Scored]) -> str:
    if not scores:
        return f"{instrument.name}: no score yet."
    told = ", ".join(
        f"{one.value:g} on {one.on:%d %b %Y}{' (hardware out)' if one.hardware_out else ''}"
        for one in reversed(scores)
    )
    change = _change(instrument, scores)
    return f"{instrument.name}: {told}{f'; {change}' if change else ''}."


def _change(instrument: Instrument, scores: Sequence[Scored]) -> str:
    """Say the last step and its direction; a smaller or larger number alone says nothing."""
    if len(scores) < 2:
        return ""
    step = round(scores[-1].value - scores[-2].value, 2)
    if step == 0:
        return "as last time"
    better = (step < 0) == instrument.lower_is_better
    return f"{abs(step):g} {'better' if better else 'worse'} than last time"
