"""The signals that are open at a pack's sites, as they stand when it is made."""

from collections.abc import Sequence
from datetime import date

from analytics.figures.section_signals import SignalLine, section
from analytics.figures.sections import Section
from analytics.selectors.signals import open_signals
from registry.models.sites import Site
from registry.selectors.visible import Viewer

# As many as can be gone through at a meeting; the page of the signals has them all.
MOST = 40


def signals(user: Viewer, sites: Sequence[Site], today: date) -> Section:
    """Return the section of a pack about open signals, by the rights of whoever asked for it."""
    lines = [
        SignalLine(
            chart=str(one.design),
            cases=one.cases,
            events=one.events,
            expected=one.expected_events,
            raised_on=one.raised_at.date(),
            owner=str(one.owner),
            due_on=one.due_on,
            state=one.get_state_display(),
        )
        for one in open_signals(user, sites)[:MOST]
    ]
    return section(lines, today)
