"""Films of the invented service that are read twice."""

from collections import Counter

import pytest

from analytics.simulation import setting
from config.demo import twice
from config.demo.staff import open_service
from followup.models import ReadingPolicy, WantedReading
from followup.rules.second_readings import place_of
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.twice import film, read, readers

pytestmark = pytest.mark.usefixtures("defaults")


def test_the_first_site_draws_a_share_of_its_films_and_the_other_none() -> None:
    staff = open_service(setting.DEMO_SITES, years=setting.DEMO_YEARS, now=NOW, today=TODAY)
    first, other = staff.sites[:2]
    one, *_ = readers()
    shown = [
        film(builders.procedure(builders.injury(builders.patient(site))).injury)
        for site in (first, other)
        for _ in range(12)
    ]
    for each in shown:
        read(each, one)
    assert not WantedReading.objects.exists()
    found = twice.draw(staff, now=NOW, today=TODAY)
    drawn = [
        each
        for each in shown
        if each.site_id == first.pk and place_of(first.code, each.pk) < twice.SHARE_PCT / 100
    ]
    assert found.wanted == len(drawn)
    assert set(WantedReading.objects.values_list("film", flat=True)) == {one.pk for one in drawn}
    assert Counter(ReadingPolicy.objects.values_list("site", "draw")) == {(first.pk, "share"): 1}
