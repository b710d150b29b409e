from datetime import timedelta

import pandas as pd
import pytest

from analytics.models import ChartCase, ChartDesign, MonitoringPolicy
from analytics.selectors import monitoring
from analytics.services import charts, policies
from registry.models import Site
from registry.services import patients
from registry.services.enrolment import ConsentGiven
from tests import builders
from tests.analytics import monitored
from tests.analytics.monitored import frames
from tests.builders import NOW, TODAY

USUAL = [n % 10 == 0 for n in range(78)]


@pytest.fixture
def site(db: None) -> Site:
    return builders.site()


def test_an_administrator_sees_the_policies_of_the_own_sites_with_their_history(
    site: Site,
) -> None:
    monitored.policy(site)
    monitored.policy(site, surgeons=False)
    monitored.policy(builders.site("south"))
    (line,) = monitoring.policies(builders.person("north_admin", north="administrator"))
    assert (line.site, line.version) == (site, 2)
    assert line.current is not None
    assert (line.current.version, line.current.surgeons) == (2, False)
    assert [one.version for one in line.earlier] == [1]


def test_a_policy_that_has_ended_is_in_force_nowhere(site: Site) -> None:
    row = monitored.policy(site)
    assert monitoring.in_force([site]) == {site.pk: row}
    policies.switch_off(
        site=site, because="over", by=row.switched_on_by, now=NOW, expected_version=1
    )
    assert monitoring.in_force([site]) == {}
    assert monitoring.site_policy(site).current is None


def test_an_owner_holds_the_right_today(site: Site) -> None:
    lead = monitored.lead()
    builders.person("selma", north="surgeon")
    gone = builders.person("gone", north="quality_lead")
    gone.memberships.update(ends_on=TODAY - timedelta(days=1))
    assert list(monitoring.may_own(site, TODAY)) == [lead]


def test_charts_are_shown_while_the_policy_has_them_on(site: Site) -> None:
    row = monitored.design(site)
    lead = monitored.lead()
    assert list(monitoring.designs(lead, [site])) == [row]
    assert list(monitoring.designs(monitored.lead("south"), [site])) == []
    monitored.policy(site, charts=False)
    assert list(monitoring.designs(lead, [site])) == []


def test_several_charts_are_read_as_each_is_alone(site: Site) -> None:
    one = monitored.design(site)
    two = monitored.design(site, construct_type="LP")
    monitored.signal(site, one)
    both = monitoring.read_all([one, two])
    assert both[one.pk] == monitoring.read(one, monitoring.rows_of(one))
    assert both[one.pk].crossings
    assert both[two.pk].path == ()


def test_designs_of_one_chart_know_each_other(site: Site) -> None:
    one = monitored.design(site)
    two = monitored.design(site, version=1)
    monitored.design(site, construct_type="LP")
    assert list(monitoring.versions(two)) == [one]
    assert monitoring.current(one) == two
    assert monitoring.provenance(two)["chart"] == "Loss of reduction, North Hospital, version 2"


def test_cases_are_those_of_a_site_and_of_a_construct_type(site: Site) -> None:
    given = frames([False] * 4, site="north")
    given.cases["construct_type"] = ["LP", "HP", "LP", "HP"]
    given.cases.loc[4, "site"] = "south"
    data, later = monitoring.cases_of(given, site)
    assert data.cases.index.tolist() == [1, 2, 3]
    assert later.empty
    data, _ = monitoring.cases_of(given, site, "HP")
    assert data.cases.index.tolist() == [2]
    assert set(data.readings["procedure_id"]) == {2}


def test_who_is_not_on_a_chart_is_counted_by_why(site: Site) -> None:
    row = monitored.design(site)
    given = frames([*USUAL, False, False, False], site="north")
    readings = given.readings[given.readings["procedure_id"] != 80]
    given.cases.loc[81, "performed_on"] = pd.Timestamp(TODAY - timedelta(days=20))
    found = monitoring.outside(row, monitored.but(given, readings=readings))
    assert (found.operated, found.recent, found.unjudged) == (3, 1, 1)


def test_a_chart_is_outdated_when_its_definition_has_moved_on(site: Site) -> None:
    row = monitored.design(site)
    assert not monitoring.is_outdated(row)
    row.definition_version += 1
    assert monitoring.is_outdated(row)


def test_nothing_is_taken_in_from_another_site(site: Site) -> None:
    row = monitored.design(site)
    elsewhere = frames([*USUAL, True], site="south")
    assert charts.take_in(design=row, frames=elsewhere, on=TODAY) == 0
    assert ChartDesign.objects.count() == MonitoringPolicy.objects.count() == 1


def test_the_place_of_a_withdrawn_case_stands_empty_and_moves_no_other(site: Site) -> None:
    row = monitored.design(site)
    operations = [builders.procedure(builders.injury(builders.patient(site))) for _ in range(3)]
    ChartCase.objects.bulk_create(
        ChartCase(
            design=row,
            position=place,
            case_id=one.pk,
            performed_on=one.performed_on,
            outcome=True,
            expected=0.1,
            entered_on=TODAY,
        )
        for place, one in enumerate(operations)
    )
    before = monitoring.read(row, monitoring.rows_of(row))
    gone = operations[1].injury.patient
    patients.add_consent(
        patient=gone,
        site=site,
        given=ConsentGiven("registry", "opted_out", TODAY, "letter"),
        by=gone.recorded_by,
        now=NOW,
        today=TODAY,
    )
    rows = monitoring.rows_of(row)
    reading, facts = monitoring.read(row, rows), monitoring.facts_of(row, rows)
    assert [one.case_id for one in rows] == [operations[0].pk, 0, operations[2].pk]
    assert (facts.cases, facts.events, facts.outcomes[1]) == (2, 2, None)
    assert reading.path[:2] == (before.path[0], before.path[0])
    assert reading.path[2] == pytest.approx(before.path[1])
    assert [one["case"] for one in monitoring.case_lines(rows, reading)] == [1, 3]
    assert monitoring.read_all([row]) == {row.pk: reading}
    everybody = builders.person("north_looker", north="quality_lead")
    assert monitoring.designs(everybody, [site]).get().taken_in == 2
