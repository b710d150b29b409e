"""Do the sums agree? Every review that was ever planned is accounted for, once."""

from dataclasses import dataclass

from django.db.models import Count, F, Q

from followup.models.reviews import OPEN_STATES, EndedBecause, Review, ReviewState
from followup.rules import states
from followup.selectors.visible import visible
from registry.selectors.visible import Viewer

IN_WINDOW = Q(attended_on__gte=F("opens_on"), attended_on__lte=F("closes_on"))
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
            f"closed by {because.replace('moved', 'moving away')}",
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
    ways: tuple[tuple[str, int], ...]
    difference: int


def review_sums(user: Viewer) -> Sums:
    """Return the sums of all reviews that a person may see, in one query."""
    counts = visible(user, Review, "see_due").aggregate(
        all=Count("id"), **{name: Count("id", filter=rule) for name, (_, rule) in WAYS.items()}
    )
    _, difference = states.daily_sum(counts)
    ways = tuple((words, counts[name]) for name, (words, _) in WAYS.items())
    return Sums(counts["all"], ways, difference)
