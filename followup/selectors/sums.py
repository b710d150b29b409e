"""Do the sums agree? Every review that was ever planned is accounted for, once."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, F, Q

from followup.models.lists import ReviewSum
from followup.models.reviews import OPEN_STATES, EndedBecause, Review, ReviewState
from followup.rules import states
from followup.selectors.visible import visible
from registry.selectors.visible import Viewer

IN_WINDOW = Q(attended_on__gte=F("opens_on"), attended_on__lte=F("closes_on"))
CLOSED_WORDS = {"moved": "moving away", "protocol": "a change of protocol"}
WAYS: dict[str, tuple[str, Q]] = {
    "done_in_window": ("done in window", Q(state=ReviewState.ATTENDED) & IN_WINDOW),
    "done_outside": ("done outside it", Q(state=ReviewState.ATTENDED) & ~IN_WINDOW),
    "missed": ("missed", Q(state=ReviewState.MISSED)),
    "lapsed": ("lapsed", Q(state=ReviewState.LAPSED)),
    "not_needed": (
        "not needed",
        Q(state=ReviewState.NOT_NEEDED, ended_because=EndedBecause.CHOSEN),
    ),
    **{
        because: (
            f"closed by {CLOSED_WORDS.get(because, because)}",
            Q(state=ReviewState.NOT_NEEDED, ended_because=because),
        )
        for because in states.CLOSED_BY
    },
    "open": ("open", Q(state__in=OPEN_STATES)),
}


@dataclass(frozen=True)
class Sums:
    """How many reviews were planned, and how many stand in which way; the difference ought to be 0."""

    planned: int
    counts: Mapping[str, int]

    @property
    def ways(self) -> tuple[tuple[str, int], ...]:
        """Every way in which a review can stand, in words, with how many do."""
        return tuple((words, self.counts.get(name, 0)) for name, (words, _) in WAYS.items())

    @property
    def difference(self) -> int:
        """How many reviews stand in no way that is known."""
        return states.daily_sum({**self.counts, "all": self.planned})[1]


@dataclass(frozen=True)
class Night:
    """The sums of the sites that a person may see, as they were counted on a day."""

    on: date
    counted_at: datetime
    sums: Sums


def review_sums(user: Viewer) -> Sums:
    """Count anew all reviews that a person may see, in one query that reads every one of them."""
    counts = visible(user, Review, "see_due").aggregate(all=Count("id"), **_ways())
    return Sums(counts.pop("all"), counts)


def counted_by_site() -> dict[int, Sums]:
    """Count all reviews by site, in one query that reads every one of them."""
    rows = Review.objects.order_by().values("site_id").annotate(all=Count("id"), **_ways())
    return {row.pop("site_id"): Sums(row.pop("all"), row) for row in map(dict, rows)}


def nights(user: Viewer, most: int = 30) -> list[Night]:
    """Return what was counted on the last days at the sites that a person may see, latest first."""
    rows = visible(user, ReviewSum, "see_due").order_by("-on")
    last = rows.values("on").distinct()[:most]
    by_day: dict[date, list[ReviewSum]] = {}
    for row in rows.filter(on__in=last):
        by_day.setdefault(row.on, []).append(row)
    return [_night(on, some) for on, some in by_day.items()]


def last_night(user: Viewer) -> Night | None:
    """Return what was counted last, in one query that reads one row for each site."""
    found = nights(user, most=1)
    return found[0] if found else None


def _night(on: date, rows: list[ReviewSum]) -> Night:
    counts: Counter[str] = Counter()
    for row in rows:
        counts.update(row.counts)
    planned = sum(row.planned for row in rows)
    return Night(on, min(row.counted_at for row in rows), Sums(planned, counts))


def _ways() -> dict[str, Count]:
    return {name: Count("id", filter=rule) for name, (_, rule) in WAYS.items()}
