"""The sums of each night, for each site."""

from datetime import timedelta

import pytest

from followup.models import Review, ReviewSum
from followup.services.sums import Counted, count_reviews
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_every_site_is_counted_and_a_second_count_replaces_the_first() -> None:
    builders.procedure()
    builders.site("south")
    assert count_reviews(now=NOW, today=TODAY) == Counted(sites=2, planned=7, difference=0)
    Review.objects.filter(step__code="6m").update(state="missed")
    later = NOW + timedelta(hours=1)
    count_reviews(now=later, today=TODAY)
    north = ReviewSum.objects.get(site__code="north")
    assert (north.planned, north.counted_at) == (7, later)
    assert (north.counts["missed"], north.counts["open"]) == (1, 6)
    assert ReviewSum.objects.get(site__code="south").planned == 0


def test_each_day_is_kept() -> None:
    builders.procedure()
    count_reviews(now=NOW, today=TODAY)
    count_reviews(now=NOW, today=TODAY + timedelta(days=1))
    assert ReviewSum.objects.count() == 2
