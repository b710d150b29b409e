"""The states of a review, and the only ways from one to the next."""

from collections.abc import Mapping

from registry.errors import IllegalTransition

PLANNED, BOOKED, ATTENDED = "planned", "booked", "attended"
MISSED, LAPSED, NOT_NEEDED = "missed", "lapsed", "not_needed"
WORDS = {
    PLANNED: "planned",
    BOOKED: "booked",
    ATTENDED: "attended",
    MISSED: "missed",
    LAPSED: "lapsed",
    NOT_NEEDED: "not needed",
}
DEATH = "death"
PROTOCOL = "protocol"
CLOSED_BY = (DEATH, "withdrawal", "moved", "revision", "removal", PROTOCOL)
# Whoever comes back, to the service or to a protocol, was away; the others can only be undone.
RETURNS = frozenset({"withdrawal", "moved", PROTOCOL})


def _move(present: str, wanted: str, allowed: frozenset[str]) -> str:
    if present not in allowed:
        raise IllegalTransition("The review", present=WORDS[present], wanted=WORDS[wanted])
    return wanted


def book(present: str) -> str:
    """Return 'booked' from planned, booked (a change of slot) or missed (a new try).

    Raises IllegalTransition.
    """
    return _move(present, BOOKED, frozenset({PLANNED, BOOKED, MISSED}))


def unbook(present: str) -> str:
    """Return 'planned' when the slot is cancelled.

    Raises IllegalTransition.
    """
    return _move(present, PLANNED, frozenset({BOOKED}))


def attend(present: str) -> str:
    """Return 'attended'; a patient may come unbooked, after a missed slot or after the window.

    Raises IllegalTransition.
    """
    return _move(present, ATTENDED, frozenset({PLANNED, BOOKED, MISSED, LAPSED, ATTENDED}))


def miss(present: str) -> str:
    """Return 'missed' when a booked patient did not come.

    Raises IllegalTransition.
    """
    return _move(present, MISSED, frozenset({BOOKED}))


def lapse(present: str) -> str:
    """Return 'lapsed' when the window closed with nothing collected.

    Raises IllegalTransition.
    """
    return _move(present, LAPSED, frozenset({PLANNED, BOOKED, MISSED}))


def end(present: str) -> str:
    """Return 'not needed', by decision in clinic or because the schedule is over.

    Raises IllegalTransition.
    """
    return _move(present, NOT_NEEDED, frozenset({PLANNED, BOOKED, MISSED}))


def close(present: str) -> str:
    """Return 'not needed' because the schedule is over; it may have been so for some time.

    A review that lapsed before the ending was known, or was closed by another one, may be closed.
    Raises IllegalTransition.
    """
    return _move(present, NOT_NEEDED, frozenset({PLANNED, BOOKED, MISSED, LAPSED, NOT_NEEDED}))


def reopen(present: str) -> str:
    """Return 'planned' for a review that was ended in error.

    Raises IllegalTransition.
    """
    return _move(present, PLANNED, frozenset({NOT_NEEDED, LAPSED}))


def daily_sum(counts: Mapping[str, int]) -> tuple[int, int]:
    """Return (accounted for, difference) of a day's counts.

    `counts` holds 'all' and one number for each way a review can stand: done_in_window,
    done_outside, missed, lapsed, not_needed, open, and one per word of CLOSED_BY.
    """
    parts = ("done_in_window", "done_outside", "missed", "lapsed", "not_needed", "open")
    accounted = sum(counts.get(name, 0) for name in (*parts, *CLOSED_BY))
    return accounted, counts["all"] - accounted
