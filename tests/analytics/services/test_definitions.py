import pytest

from analytics.models import EndpointChoice
from analytics.services.definitions import choose_definition
from registry.errors import BadInput, StaleVersion
from registry.models import Person
from tests import builders
from tests.builders import TODAY


def test_the_latest_choice_stands_and_the_earlier_is_kept(administrator: Person) -> None:
    site = builders.site()
    one, two = (
        choose_definition(site=site, definition_id=name, on=TODAY, by=administrator)
        for name in ("rise-3mm", "ratio-25")
    )
    one.refresh_from_db()
    assert (one.superseded, two.superseded) == (True, False)
    assert (two.endpoint, two.definition_version) == ("loss_of_reduction", 1)
    assert two.chosen_by == administrator


def test_choosing_what_is_chosen_changes_nothing(administrator: Person) -> None:
    site = builders.site()
    for _ in range(2):
        choose_definition(site=site, definition_id="rise-3mm", on=TODAY, by=administrator)
    assert EndpointChoice.objects.count() == 1


def test_each_site_and_each_endpoint_has_its_own_choice(administrator: Person) -> None:
    for code, name in (("north", "rise-3mm"), ("south", "ratio-25"), ("north", "union-film")):
        choose_definition(site=builders.site(code), definition_id=name, on=TODAY, by=administrator)
    assert EndpointChoice.objects.filter(superseded=False).count() == 3


def test_a_definition_that_does_not_ship_is_refused(administrator: Person) -> None:
    with pytest.raises(BadInput, match="'better' is not a shipped definition"):
        choose_definition(site=builders.site(), definition_id="better", on=TODAY, by=administrator)


def test_whoever_did_not_see_the_latest_choice_is_told_so(administrator: Person) -> None:
    site = builders.site()
    given = {"site": site, "on": TODAY, "by": administrator}
    choose_definition(definition_id="rise-3mm", expected_version=0, **given)
    with pytest.raises(StaleVersion, match="it is now 1"):
        choose_definition(definition_id="ratio-25", expected_version=0, **given)
    choose_definition(definition_id="ratio-25", expected_version=1, **given)
    assert EndpointChoice.objects.get(superseded=False).definition_id == "ratio-25"
