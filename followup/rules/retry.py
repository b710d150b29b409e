"""When to try again what could not be handed over, and when to give it to a person."""

from datetime import timedelta

FIRST_WAIT = timedelta(minutes=2)
LONGEST_WAIT = timedelta(hours=6)
MOST_TRIES = 8
MOST_LOOK_UPS = 6


def wait_after(tries: int, chance: float) -> timedelta:
    """Return how long to wait after so many failed tries: it doubles each time, up to six hours.

    `chance` from 0 to 1 spreads the wait over its upper half, so that what failed together does not
    come back together. Raises ValueError for no try, or a chance outside 0 to 1. Common practice,
    no source.
    """
    if tries < 1:
        raise ValueError(f"tries counts from 1, got {tries}")
    if not 0 <= chance <= 1:
        raise ValueError(f"chance lies between 0 and 1, got {chance}")
    # Doubled as often as matters: a huge power would leave the range of a duration.
    times: int = 2 ** min(tries - 1, 20)
    full = min(FIRST_WAIT * times, LONGEST_WAIT)
    return full * (0.5 + chance / 2)


def is_spent(tries: int) -> bool:
    """Say whether so many tries are enough, so that a person has to look."""
    return tries >= MOST_TRIES
