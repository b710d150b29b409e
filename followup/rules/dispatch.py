"""May a message go to a patient now?"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, time

QUIET_FROM, QUIET_UNTIL = time(21, 0), time(8, 0)


@dataclass(frozen=True)
class Recipient:
    """What decides whether somebody may be written to; `local_now` is in the site's zone."""

    status: str
    contact_opted_out: bool
    refused_means: Collection[str]
    has_address: bool
    local_now: datetime


@dataclass(frozen=True)
class Dispatch:
    """Go now, wait until later, or never; with the reason in words."""

    go: bool
    never: bool
    reason: str


def may_go(to: Recipient, means: str) -> Dispatch:
    """Decide about one message. Never to a patient who died, withdrew or refused; never at night.

    Quiet hours 21:00 to 08:00 by the site's clock: 47 CFR 64.1200 (read as summarised by others).
    """
    if to.status != "active":
        return Dispatch(False, True, f"the patient's follow-up has ended ({to.status})")
    if to.contact_opted_out:
        return Dispatch(False, True, "the patient does not want to be contacted")
    if means in to.refused_means:
        return Dispatch(False, True, f"the patient refused contact by {means}")
    if not to.has_address:
        return Dispatch(False, True, f"no address for {means}")
    clock = to.local_now.time()
    if clock >= QUIET_FROM or clock < QUIET_UNTIL:
        return Dispatch(False, False, "quiet hours; it goes in the morning")
    return Dispatch(True, False, "")
