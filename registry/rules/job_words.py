"""How a run of the background went, in words."""

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta


def sentence(outcome: str, counts: Mapping[str, object], fault: str) -> str:
    """Say how a run went: what it counted, or why it did not come to an end."""
    if outcome == "busy":
        return "Another run of this is under way; nothing was done here."
    if outcome in ("failed", "died"):
        return f"It did not end well: {fault}."
    if outcome == "running":
        return "It is under way."
    if not counts:
        return "Done."
    return ", ".join(f"{number} {what}" for what, number in counts.items()) + "."


def day_owed(local_now: datetime, due: time) -> date:
    """Return the last day whose nightly work should have begun, by the wall clock of the service.

    By the clock on the wall, so that a night whose hour is skipped in spring owes its work as well.
    """
    today = local_now.date()
    return today if local_now.time() >= due else today - timedelta(days=1)


def duration(took: timedelta) -> str:
    """Say a duration as a person would: '0.4 s', '12 s', '3 min', '2 h 5 min'."""
    seconds = took.total_seconds()
    if seconds < 10:
        return f"{seconds:.1f} s"
    if seconds < 120:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60} min"
