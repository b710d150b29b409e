import pytest

from analytics.selectors.visible import sites_of, visible
from registry.models import Person, Procedure
from tests import builders
from tests.analytics.records import operation

pytestmark = pytest.mark.usefixtures("defaults")


def test_outcomes_are_those_of_the_sites_where_a_role_permits_them(
    quality_lead: Person, surgeon: Person, coordinator: Person, outsider: Person
) -> None:
    builders.site("south")
    assert [site.code for site in sites_of(quality_lead)] == ["north"]
    assert [site.code for site in sites_of(surgeon)] == ["north"]
    assert sites_of(coordinator) == []
    assert [site.code for site in sites_of(outsider)] == ["south"]


def test_rows_of_another_site_are_not_seen(quality_lead: Person) -> None:
    mine = operation("north")
    operation("south")
    assert list(visible(quality_lead, Procedure)) == [mine]
