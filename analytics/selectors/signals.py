"""The signals of the charts: what is open, what is late, and what became of each."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet

from analytics.models.signals import DataCheck, Signal, SignalState, SignalStep
from analytics.rules import signals as rules
from analytics.selectors.visible import visible
from registry.models.sites import Site
from registry.selectors.visible import Viewer


@dataclass(frozen=True)
class Late:
    """How many open signals are past their day, and the oldest of them."""

    number: int
    oldest: Signal
    words: str


@dataclass(frozen=True)
class Course:
    """One signal with its checks (the last of each subject), its steps and what may come next."""

    signal: Signal
    checks: dict[str, DataCheck]
    steps: tuple[SignalStep, ...]
    acts: tuple[str, ...]


def signals(user: Viewer, action: str = "see_signals") -> "QuerySet[Any]":
    """Return the signals of a person's sites with what a line about one shows."""
    rows: QuerySet[Any] = visible(user, Signal, action).select_related(
        "site", "design__site", "owner"
    )
    return rows


def open_signals(user: Viewer, sites: "Collection[Site] | None" = None) -> "QuerySet[Any]":
    """Return what is open, the longest past its day on top."""
    rows = signals(user).exclude(state=SignalState.CLOSED)
    if sites is not None:
        rows = rows.filter(site__in=sites)
    return rows.order_by("due_on", "id")


def late(user: Viewer, today: date) -> Late | None:
    """Return how many signals of a person's sites are past their day; None where none is."""
    rows = list(open_signals(user).filter(due_on__lt=today))
    if not rows:
        return None
    return Late(len(rows), rows[0], rules.late_words(rows[0].due_on, today))


def course(signal: Signal) -> Course:
    """Return everything that became of a signal, in two queries."""
    checks = recorded(signal)
    return Course(
        signal=signal,
        checks=checks,
        steps=tuple(signal.steps.select_related("by")),
        acts=rules.next_acts(signal.state, checks),
    )


def recorded(signal: Signal) -> dict[str, DataCheck]:
    """Return the last check of each subject that was recorded for a signal."""
    rows = signal.checks.select_related("looked_by").order_by("id")
    return {row.subject: row for row in rows}


def last_looks(user: Viewer, sites: Collection[Site]) -> dict[str, DataCheck]:
    """Return the last time that each check of some sites was recorded, whatever for, by subject."""
    rows = visible(user, DataCheck, "see_signals").filter(site__in=sites)
    rows = rows.select_related("looked_by", "site").order_by("-id")
    found: dict[str, DataCheck] = {}
    for subject in rules.SUBJECTS:
        row = rows.filter(subject=subject).first()
        if row is not None:
            found[subject] = row
    return found
