"""The sites' policies of second readings, as the rules know them."""

from typing import Any

import pytest

from followup.models import ReadingPolicy
from followup.rules.measurement_error import MDC_MM
from followup.rules.second_readings import SHARE, Policy
from followup.selectors import reading_policies as selector
from tests import builders

pytestmark = pytest.mark.django_db


def test_what_no_site_has_set_is_as_shipped() -> None:
    north, south = builders.site().pk, builders.site("south").pk
    ReadingPolicy.objects.create(site_id=south, draw=SHARE, share_pct=25, seed="a", third_mm="1.5")
    found = selector.policies([north, south])
    assert found[north] == Policy()
    assert found[south] == Policy(draw=SHARE, share_pct=25, seed="a", third_mm=1.5)


def test_the_row_and_the_rule_ship_the_same_numbers() -> None:
    assert selector.policy_of(ReadingPolicy()) == Policy()


def test_a_site_says_what_change_it_can_detect(django_assert_num_queries: Any) -> None:
    sites = [builders.site(code).pk for code in ("north", "south", "west")]
    ReadingPolicy.objects.create(site_id=sites[1], mdc_mm="1.4")
    with django_assert_num_queries(1):
        found = selector.detectable_changes(sites)
    assert found == {sites[0]: MDC_MM, sites[1]: 1.4, sites[2]: MDC_MM}
    assert selector.detectable_change(sites[1]) == 1.4
