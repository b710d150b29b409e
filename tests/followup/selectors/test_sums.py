"""The daily sums: planned reviews against all the ways in which one can stand."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client

from followup.models import Review
from followup.rules import states
from followup.selectors.sums import WAYS, counted_by_site, last_night, nights, review_sums
from followup.services.sums import count_reviews
from registry.models import Person
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
OPERATED = date(2026, 6, 5)


def put(step: str, **values: Any) -> None:
    """Let the review of a step stand in a way."""
    Review.objects.filter(step__code=step).update(**values)


def test_every_way_is_counted_once_and_the_difference_is_none(coordinator: Person) -> None:
    builders.procedure(performed_on=OPERATED)
    put("baseline", state="attended", attended_on=OPERATED)
    put("2w", state="attended", attended_on=date(2026, 9, 1))
    put("6w", state="lapsed")
    put("3m", state="missed")
    put("6m", state="not_needed", ended_because="chosen", ended_reason="abroad")
    put("12m", state="not_needed", ended_because="moved")
    sums = review_sums(coordinator)
    assert (sums.planned, sums.difference) == (7, 0)
    assert {words: number for words, number in sums.ways if number} == {
        "done in window": 1,
        "done outside it": 1,
        "lapsed": 1,
        "missed": 1,
        "not needed": 1,
        "closed by moving away": 1,
        "open": 1,
    }


def test_the_ways_are_those_of_the_rule() -> None:
    counts = dict.fromkeys(WAYS, 1)
    assert states.daily_sum({**counts, "all": len(WAYS)}) == (len(WAYS), 0)


def test_another_sites_reviews_are_in_no_sum(outsider: Person) -> None:
    builders.procedure(performed_on=OPERATED)
    assert review_sums(outsider).planned == 0


def test_each_site_is_counted_apart(coordinator: Person) -> None:
    builders.procedure(performed_on=OPERATED)
    counted = counted_by_site()
    assert counted == {builders.site().pk: review_sums(coordinator)}


def test_the_nights_of_ones_sites_are_summed_latest_first(
    coordinator: Person, outsider: Person
) -> None:
    builders.procedure(performed_on=OPERATED)
    for days in (0, 1):
        count_reviews(now=NOW, today=TODAY + timedelta(days=days))
    assert [night.on for night in nights(coordinator)] == [TODAY + timedelta(days=1), TODAY]
    night = last_night(coordinator)
    assert night is not None
    assert (night.on, night.sums) == (TODAY + timedelta(days=1), review_sums(coordinator))
    theirs = last_night(outsider)
    assert theirs is not None
    assert theirs.sums.planned == 0


def test_before_the_first_night_there_is_none(coordinator: Person) -> None:
    assert last_night(coordinator) is None


def test_the_due_page_shows_the_sums_of_the_night(client: Client, coordinator: Person) -> None:
    builders.procedure(performed_on=OPERATED)
    client.force_login(coordinator)
    assert "They are counted every night" in client.get("/due/").content.decode()
    count_reviews(now=NOW, today=TODAY)
    page = " ".join(client.get("/due/").content.decode().split())
    assert "7 reviews planned by 25 Nov 2026; difference 0" in page


def test_the_sums_are_counted_anew_on_their_own_page(client: Client, coordinator: Person) -> None:
    builders.procedure(performed_on=OPERATED)
    client.force_login(coordinator)
    page = " ".join(client.get("/due/sums/").content.decode().split())
    assert "7 reviews planned so far, counted just now; difference <strong>0</strong>" in page
