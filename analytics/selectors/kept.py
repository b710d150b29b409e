"""Answers that take long, kept for as long as what they were made from stays the same."""

import hashlib
from collections.abc import Callable
from typing import TypeVar

from django.core.cache import cache

from analytics.endpoints.rules_hash import rules_hash
from analytics.selectors.outcomes import Given

DAY_SECONDS = 86_400
# Of a whole page: a snapshot is renewed every quarter of an hour.
HOUR_SECONDS = 3_600
Made = TypeVar("Made")


def kept(
    view: Given, name: str, make: Callable[[], Made], *also: str, seconds: int = DAY_SECONDS
) -> Made:
    """Return what `make` gives for a view, made once for a snapshot, an address and its sites.

    `also` is what else the answer depends on; what is large is kept for fewer `seconds`.
    """
    key = _key(view, name, *also)
    found: Made | None = cache.get(key)
    if found is None:
        found = make()
        cache.set(key, found, seconds)
    return found


def is_kept(view: Given, name: str, *also: str) -> bool:
    """Say whether an answer is there already."""
    return cache.has_key(_key(view, name, *also))


def _key(view: Given, name: str, *also: str) -> str:
    snapshot = view.snapshot
    parts = (
        name,
        snapshot.content_hash,
        snapshot.cutoff.isoformat(),
        snapshot.code_version,
        rules_hash(),
        view.rule.address(),
        "" if view.unchosen else view.definition.label,
        str(view.min_at_risk),
        *sorted(view.site_codes),
        *also,
    )
    return f"answer:{hashlib.sha256('|'.join(parts).encode()).hexdigest()}"
