"""Which shipped definition each site calls its own."""

from datetime import timedelta
from typing import Any

import pytest

from analytics.endpoints.catalogue import DEFINITIONS
from analytics.models import EndpointChoice
from analytics.selectors import definitions as selector
from analytics.services.definitions import choose_definition
from followup.selectors import film_strip
from registry.models import Person
from tests import builders
from tests.builders import TODAY

pytestmark = pytest.mark.django_db


def loss(user: Person) -> selector.EndpointChoices:
    (found,) = selector.choices(user)
    return found


def test_only_the_loss_of_reduction_leaves_a_choice(administrator: Person) -> None:
    found = loss(administrator)
    assert (found.endpoint, found.name) == ("loss_of_reduction", "Loss of reduction")
    assert len(found.definitions) == 7
    assert {row.endpoint for row in selector.without_choice()} >= {"union", "any_complication"}
    assert not selector.leaves_a_choice("union")
    assert not selector.leaves_a_choice("beauty")


def test_the_latest_choice_stands_with_who_and_when_and_the_earlier_ones_follow(
    administrator: Person,
) -> None:
    for days, name in ((30, "rise-3mm"), (10, "ratio-50"), (0, "ratio-25")):
        choose_definition(
            site=builders.site(),
            definition_id=name,
            on=TODAY - timedelta(days=days),
            by=administrator,
        )
    (site,) = loss(administrator).sites
    assert site.current == selector.ChoiceLine(
        definition_id="ratio-25",
        name="CC distance 25 % or more above the other side (version 1)",
        since=TODAY,
        by="Ada",
        outdated=False,
    )
    assert [line.definition_id for line in site.earlier] == ["ratio-50", "rise-3mm"]
    assert site.version == 3
    assert selector.site_choice(builders.site(), "loss_of_reduction") == site


@pytest.mark.parametrize("changes", [{"definition_version": 9}, {"definition_id": "withdrawn"}])
def test_a_choice_of_what_no_longer_ships_is_outdated(
    administrator: Person, changes: dict[str, Any]
) -> None:
    choose_definition(site=builders.site(), definition_id="rise-3mm", on=TODAY, by=None)
    EndpointChoice.objects.update(**changes)
    current = loss(administrator).sites[0].current
    assert current is not None
    assert current.outdated
    assert current.by == "the service itself"


def test_sites_differ_only_where_two_have_chosen_otherwise(db: None) -> None:
    both = builders.person("both", north="administrator", south="administrator")
    assert not loss(both).differ
    for code, name, differ in (
        ("north", "rise-3mm", False),
        ("south", "ratio-25", True),
        ("south", "rise-3mm", False),
    ):
        choose_definition(site=builders.site(code), definition_id=name, on=TODAY, by=both)
        assert loss(both).differ is differ


def test_another_sites_choice_is_not_seen(administrator: Person) -> None:
    choose_definition(site=builders.site("south"), definition_id="rise-3mm", on=TODAY, by=None)
    assert [site.current for site in loss(administrator).sites] == [None]


def test_a_sites_baseline_window_is_that_of_what_it_calls_its_own() -> None:
    site = builders.site()
    assert selector.baseline_days_of(site) is None
    choose_definition(site=site, definition_id="rise-3mm", on=TODAY, by=None)
    assert selector.baseline_days_of(site) == DEFINITIONS["rise-3mm"].baseline_days
    assert selector.baseline_days_of(builders.site("south")) is None
    # The strip of films, which knows no definitions, asks and is answered.
    assert film_strip.baseline_days_of(site) == DEFINITIONS["rise-3mm"].baseline_days
