"""The daily sums, counted once a day for each site so that no page has to count."""

from dataclasses import dataclass
from datetime import date, datetime

from followup.models.lists import ReviewSum
from followup.selectors.sums import counted_by_site
from registry.models.sites import Site


@dataclass(frozen=True)
class Counted:
    """How many sites and reviews were counted; the difference ought to be 0."""

    sites: int
    planned: int
    difference: int


def count_reviews(*, now: datetime, today: date) -> Counted:
    """Keep how the reviews of every active site stand; a second count of a day replaces the first."""
    counts = counted_by_site()
    planned = difference = 0
    sites = list(Site.objects.filter(is_active=True).values_list("pk", flat=True))
    for site_id in sites:
        found = counts.get(site_id)
        values = {"planned": found.planned if found else 0, "counts": found.counts if found else {}}
        ReviewSum.objects.update_or_create(
            site_id=site_id, on=today, defaults={"counted_at": now, **values}
        )
        planned += found.planned if found else 0
        difference += found.difference if found else 0
    return Counted(len(sites), planned, difference)
