"""Units beside each other without a ranking: each rate against the limits that its own volume allows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy.stats import chi2

from analytics.answers.horizons import Horizon
from analytics.answers.outcomes import percent
from analytics.endpoints.definition import EndpointDefinition
from analytics.estimators import monitoring
from analytics.estimators.proportions import wilson
from analytics.estimators.results import Estimate

# Below this a unit is drawn grey and no limit is held against it (common practice, no source).
FEWEST_JUDGED = 10
# So few units tell too little of how much units differ (common practice, no source).
FEWEST_UNITS_TESTED = 4
# The rate of all and the own rate of one of two give the other's away.
FEWEST_TO_HIDE = 3
ALERT, ALARM = 0.95, 0.998
CONVENTION = (
    "Limits: exact binomial with interpolation, 95% (alert) and 99.8% (alarm), around the rate of "
    "all units together; a lower limit below 0 is drawn as 0."
)
WITHIN, BEYOND_ALERT, BEYOND_ALARM = "within", "beyond_alert", "beyond_alarm"
PLACES = {
    "": "too few to judge",
    WITHIN: "within the limits",
    BEYOND_ALERT: "beyond the 95% limit",
    BEYOND_ALARM: "beyond the 99.8% limit",
}


@dataclass(frozen=True)
class Unit:
    """One unit: `place` is one of PLACES, '' where fewer than the minimum could be judged."""

    name: str
    operated: int
    eligible: int
    evaluable: int
    events: int
    rate: Estimate | None
    place: str
    low_alert: float
    high_alert: float
    low_alarm: float
    high_alarm: float


@dataclass(frozen=True)
class Spread:
    """Whether the units differ by more than chance alone: phi about 1 says that they do not."""

    units: int
    phi: float
    p_value: float
    words: str


@dataclass(frozen=True)
class Funnel:
    """The units in the order of their names, the limits over volumes, and what can be said of all."""

    of: str
    definition: EndpointDefinition
    horizon: Horizon
    target: float
    events: int
    evaluable: int
    units: tuple[Unit, ...]
    limits: pd.DataFrame
    spread: Spread | None
    refused: str


def funnel(
    states: pd.DataFrame,
    groups: "pd.Series[Any]",
    names: Mapping[object, str],
    definition: EndpointDefinition,
    horizon: Horizon,
    of: str,
) -> Funnel:
    """Hold each unit's rate against the limits around the rate of all.

    `states` as in `watched.states`, `groups` the unit of each case (missing where nobody is
    recorded: such cases are in no unit), `names` what units are called, `of` their word in the
    plural. Nothing is sorted by rate. `refused` says in words why there is no funnel.
    """
    known = groups.notna()
    counts = _counts(states.loc[known], groups.loc[known])
    judged = counts.loc[counts["evaluable"] > 0]
    events, evaluable = int(judged["events"].sum()), int(judged["evaluable"].sum())
    target = events / evaluable if evaluable else 0.0
    refused = _refused(len(judged), events, evaluable, of)
    units = _units(counts, names, 0.0 if refused else target)
    return Funnel(
        of=of,
        definition=definition,
        horizon=horizon,
        target=target,
        events=events,
        evaluable=evaluable,
        units=tuple(sorted(units, key=lambda unit: unit.name)),
        limits=pd.DataFrame() if refused else _limits(judged["evaluable"], target),
        spread=None if refused else _spread(judged, target, of),
        refused=refused,
    )


def only(found: Funnel, name: str) -> Funnel:
    """Return a funnel with one unit's point and the limits alone, for whoever may see no other's.

    Where so few units were judged that the rate of all gives the others away, it is refused.
    """
    judged = [unit for unit in found.units if unit.evaluable]
    own = tuple(unit for unit in found.units if unit.name == name)
    refused = found.refused
    if not refused and len(judged) < FEWEST_TO_HIDE:
        refused = (
            f"With fewer than {FEWEST_TO_HIDE} {found.of} the rate of all would give the others "
            "away, so your point is not shown here."
        )
    return Funnel(
        of=found.of,
        definition=found.definition,
        horizon=found.horizon,
        target=0.0 if refused else found.target,
        events=0 if refused else found.events,
        evaluable=0 if refused else found.evaluable,
        units=() if refused else own,
        limits=pd.DataFrame() if refused else _limits_up_to(own, found),
        spread=None if refused else found.spread,
        refused=refused,
    )


def sentence(found: Funnel) -> str:
    """State what the funnel shows, without calling anything performance."""
    if found.refused:
        return found.refused
    judged = [unit for unit in found.units if unit.place]
    beyond = [unit for unit in judged if unit.place != WITHIN]
    few = sum(1 for unit in found.units if not unit.place)
    rate = f"{found.events} of {found.evaluable}, {percent(found.target)}"
    parts = [f"Rate of all {found.of} together by {found.horizon.name}: {rate}."]
    if beyond:
        listed = "; ".join(f"{unit.name} {PLACES[unit.place]}" for unit in beyond)
        parts.append(
            f"{listed[0].upper()}{listed[1:]}. That asks for the data to be looked at first."
        )
    elif judged:
        parts.append(
            "Every point that can be judged lies within the limits, which does not show that all are alike."
        )
    if few:
        parts.append(f"{few} with fewer than {FEWEST_JUDGED} judged cases: grey, and not judged.")
    if found.spread is not None:
        parts.append(found.spread.words)
    return " ".join(parts)


def to_rows(found: Funnel) -> list[dict[str, Any]]:
    """Return the units as plain rows, in the order of their names."""
    return [
        {
            "of": found.of,
            "unit": unit.name,
            "operated": unit.operated,
            "eligible": unit.eligible,
            "evaluable": unit.evaluable,
            "events": unit.events,
            "rate": unit.rate.estimate if unit.rate else None,
            "rate_low": unit.rate.low if unit.rate else None,
            "rate_high": unit.rate.high if unit.rate else None,
            "target": found.target,
            "limit_95_low": unit.low_alert,
            "limit_95_high": unit.high_alert,
            "limit_998_low": unit.low_alarm,
            "limit_998_high": unit.high_alarm,
            "place": PLACES[unit.place],
        }
        for unit in found.units
    ]


def _counts(states: pd.DataFrame, groups: "pd.Series[Any]") -> pd.DataFrame:
    state = states["state"]
    facts = pd.DataFrame(
        {
            "operated": 1,
            "eligible": (state != "not_eligible").astype(int),
            "evaluable": state.isin(["event", "held", "competing"]).astype(int),
            "events": (state == "event").astype(int),
        },
        index=states.index,
    )
    return facts.groupby(groups).sum()


def _refused(units: int, events: int, evaluable: int, of: str) -> str:
    if units < 2:
        return f"A funnel sets several {of} beside each other; here only {units or 'none'} can be."
    if events in (0, evaluable):
        what = "No event" if events == 0 else "Nothing but events"
        return f"{what} in {evaluable} judged cases: there is no rate to draw limits around."
    return ""


def _units(counts: pd.DataFrame, names: Mapping[object, str], target: float) -> list[Unit]:
    found = []
    for key, row in counts.iterrows():
        evaluable, events = int(row["evaluable"]), int(row["events"])
        ends = _limits_of(evaluable, target)
        rate = wilson(events, evaluable) if evaluable else None
        found.append(
            Unit(
                name=names.get(key, str(key)),
                operated=int(row["operated"]),
                eligible=int(row["eligible"]),
                evaluable=evaluable,
                events=events,
                rate=rate,
                place=_place(rate, evaluable, ends) if target else "",
                low_alert=ends[0],
                high_alert=ends[1],
                low_alarm=ends[2],
                high_alarm=ends[3],
            )
        )
    return found


def _limits_of(evaluable: int, target: float) -> tuple[float, float, float, float]:
    if not evaluable or not 0 < target < 1:
        return (0.0, 1.0, 0.0, 1.0)
    row = monitoring.funnel_limits([evaluable], target, (ALERT, ALARM)).iloc[0]
    return tuple(float(value) for value in row)  # type: ignore[return-value]


def _place(rate: Estimate | None, evaluable: int, ends: tuple[float, float, float, float]) -> str:
    if rate is None or evaluable < FEWEST_JUDGED:
        return ""
    if not ends[2] <= rate.estimate <= ends[3]:
        return BEYOND_ALARM
    return WITHIN if ends[0] <= rate.estimate <= ends[1] else BEYOND_ALERT


def _limits(evaluable: "pd.Series[int]", target: float) -> pd.DataFrame:
    volumes = np.unique(np.linspace(1, max(20, 1.1 * float(evaluable.max())), 120).astype(int))
    return monitoring.funnel_limits(volumes, target, (ALERT, ALARM)).set_axis(
        ["low_alert", "high_alert", "low_alarm", "high_alarm"], axis="columns"
    )


def _limits_up_to(units: Sequence[Unit], found: Funnel) -> pd.DataFrame:
    """Draw the limits over the one unit's own volume: how far they go would tell the largest one's."""
    volume = pd.Series([max([1, *(unit.evaluable for unit in units)])])
    return _limits(volume, found.target)


def _spread(judged: pd.DataFrame, target: float, of: str) -> Spread | None:
    large = judged.loc[judged["evaluable"] >= FEWEST_JUDGED]
    if len(large) < FEWEST_UNITS_TESTED:
        return Spread(
            len(large),
            float("nan"),
            float("nan"),
            f"Over-dispersion was not tested: it takes {FEWEST_UNITS_TESTED} {of} with "
            f"{FEWEST_JUDGED} judged cases each, and there are {len(large)}.",
        )
    tested = monitoring.overdispersion(large["events"], large["evaluable"], target)
    p_value = float(chi2.sf(tested.phi * len(large), len(large) - 1))
    more = (
        "the points spread by more than chance alone, so that the limits are too narrow and a point "
        "beyond them says less"
        if p_value < 0.05
        else "no sign that the points spread by more than chance alone"
    )
    number = "p < 0.001" if p_value < 0.001 else f"p = {p_value:.3f}"
    return Spread(
        len(large),
        tested.phi,
        p_value,
        f"Over-dispersion tested over {len(large)} {of}: phi = {tested.phi:.2f} (1 by chance alone; "
        f"chi-squared, {number}): {more}.",
    )
