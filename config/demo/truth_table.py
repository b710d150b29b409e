"""The true rates that were put into an invented service, beside what is estimated from its rows."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from analytics.answers.outcomes import to_rows
from analytics.selectors import outcomes
from analytics.selectors.cohorts import rule_from
from analytics.services import snapshots
from analytics.simulation import truth
from registry.models import Site

# The endpoint as the simulation draws it, the definition by which it is looked for, and the horizon.
COMPARED = (
    ("loss", "loss_of_reduction", "rise-3mm", "12m"),
    ("complication", "any_complication", "any-complication", "12m"),
)
HEAD = ("construct", "true", "crude rate (95%)", "cumulative incidence (95%)", "operated")


def sections(sites: Sequence[Site], *, now: datetime, today: date) -> list[list[tuple[str, ...]]]:
    """Return a table for each endpoint: a title alone, the heads, and a line per construct type."""
    snapshot = snapshots.refresh_stale(now=now, today=today)
    frames = snapshots.frames_of(snapshot)
    found = []
    for known, endpoint, definition, horizon in COMPARED:
        rule = rule_from(
            {
                "endpoint": endpoint,
                "definition": definition,
                "horizon": horizon,
                "by": "construct_type",
            }
        )
        view = outcomes.given(rule, sites, snapshot, frames)
        lines = [
            _line(row, known, horizon)
            for row in to_rows(outcomes.outcome_answer(view))
            if row["group"] in truth.TRUTH
        ]
        title = f"{view.definition.name}, {outcomes.provenance(view)['horizon']}"
        found.append([(title,), HEAD, *lines])
    return found


def note() -> str:
    """Say why an estimate of loss lies a little above the truth."""
    return (
        "Who is operated on again is always filmed, the others when they come; and of each later "
        f"film of a shoulder that held {truth.misread_share():.1%} are misread as a loss. So a rate "
        "of loss lies a little above the truth here, as it does in any service."
    )


def _line(row: dict[str, Any], known: str, horizon: str) -> tuple[str, ...]:
    true = getattr(truth.truth_of(row["group"]), known)[horizon]
    return (
        row["group"],
        _percent(true),
        _interval(row, "rate"),
        _interval(row, "incidence"),
        str(row["operated"]),
    )


def _interval(row: dict[str, Any], name: str) -> str:
    if row[name] is None:
        return "too few at risk"
    return (
        f"{_percent(row[name])} ({_percent(row[f'{name}_low'])} to {_percent(row[f'{name}_high'])})"
    )


def _percent(share: float) -> str:
    return f"{share * 100:.1f}%"
