"""Counting how often somebody knocks, in the cache that all processes share."""

from datetime import datetime

from django.core.cache import cache


def allow(*, key: str, limit: int, seconds: int, now: datetime) -> bool:
    """Count one more knock and say whether it is still among so many in so many seconds.

    The stretches follow each other by the clock, so that a counter is never prolonged by knocking.
    A cache that two processes raise at once may count one knock too few, never one too many.
    """
    stretch = int(now.timestamp()) // seconds
    name = f"throttle:{key}:{stretch}"
    cache.add(name, 0, timeout=seconds)
    try:
        return cache.incr(name) <= limit
    except ValueError:
        # The counter ran out between the two lines: a new stretch has begun.
        cache.set(name, 1, timeout=seconds)
        return limit >= 1
