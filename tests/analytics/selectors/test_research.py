import pytest

from analytics.selectors import research
from registry.models import Person
from tests import builders
from tests.analytics.services.test_research import opened

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("defaults")]


@pytest.fixture
def both() -> Person:
    return builders.person("both", north="quality_lead", south="quality_lead")


def test_a_project_of_two_sites_is_seen_by_whoever_may_take_data_of_both(both: Person) -> None:
    sites = [builders.site("north"), builders.site("south")]
    shared = opened(both, sites=sites)
    own = opened(both, sites=sites[:1])
    assert set(research.projects(both)) == {shared, own}
    lead = builders.person("lead", north="quality_lead", south="surgeon")
    assert set(research.projects(lead)) == {own}
    assert not research.projects(builders.person("surgeon", north="surgeon"))


def test_the_columns_are_told_as_the_file_has_them(both: Person) -> None:
    project = opened(both, dates="month", ages="bands")
    assert [one.name for one in research.columns_of(project)] == [
        *("case", "patient", "site", "performed_month", "age_band")
    ]
