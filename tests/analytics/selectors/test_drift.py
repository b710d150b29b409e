from datetime import timedelta
from typing import Any

import pytest

from analytics.answers.watched import UNPLANNED, WATCHED
from analytics.models import Snapshot
from analytics.selectors import drift, outcomes
from analytics.selectors.cohorts import CohortRule, Unchosen
from analytics.selectors.drift import YOU, Watching
from analytics.selectors.frames import Frames
from registry.models import Person, Site
from tests import builders
from tests.analytics import monitored
from tests.analytics.monitored import BEGAN, frames
from tests.builders import NOW, TODAY


@pytest.fixture
def sites(db: None) -> list[Site]:
    return [builders.site("north"), builders.site("south")]


def watching(sites: list[Site], given: Frames, watched: str = "loss", **rule: Any) -> Watching:
    snapshot = Snapshot(taken_at=NOW, cutoff=TODAY, row_counts={}, code_version="1")
    asked = CohortRule(**{"by": "site", "horizon": "6m", "definition_id": "rise-3mm", **rule})
    return drift.watching(outcomes.given(asked, sites, snapshot, given), WATCHED[watched])


def of_surgeons(*people: Person, each: int = 12) -> Frames:
    """Return cases of some surgeons at the north, of whom the first lost a third."""
    lost = [n < each and n % 3 == 0 for n in range(each * len(people))]
    given = frames(lost, site="north")
    given.cases["surgeon_id"] = [one.pk for one in people for _ in range(each)]
    given.cases["surgeon_id"] = given.cases["surgeon_id"].astype("Int64")
    return given


def test_what_is_watched_brings_its_own_definition(sites: list[Site]) -> None:
    given = frames([True, False])
    assert watching(sites, given, "reoperation").definition == UNPLANNED
    assert watching(sites, given, "infection").definition.id == "infection-deep-90d"
    view = watching(sites, given, definition_id="ratio-25")
    assert view.definition.id == "ratio-25"
    assert view.given.definition == view.definition


def test_sites_stand_beside_each_other_by_name(sites: list[Site]) -> None:
    given = frames([n % 5 == 0 for n in range(60)])
    given.cases["site"] = ["north"] * 30 + ["south"] * 30
    found = drift.sites_funnel(watching(sites, given), sites)
    assert [(unit.name, unit.evaluable, unit.events) for unit in found.units] == [
        ("North Hospital", 30, 6),
        ("South Hospital", 30, 6),
    ]


def test_without_a_policy_there_is_no_funnel_of_surgeons(sites: list[Site]) -> None:
    people = [builders.person(name, north="surgeon") for name in ("ann", "bob", "cleo")]
    view = watching(sites[:1], of_surgeons(*people))
    assert drift.surgeons_funnel(view, monitored.lead(), sites[:1]) is None
    monitored.policy(sites[0], surgeons=False)
    assert drift.surgeons_funnel(view, monitored.lead(), sites[:1]) is None


def test_with_the_right_all_surgeons_are_named_and_without_it_ones_own_point_is(
    sites: list[Site],
) -> None:
    people = [builders.person(name, north="surgeon") for name in ("ann", "bob", "cleo")]
    view = watching(sites[:1], of_surgeons(*people))
    monitored.policy(sites[0])
    whole = drift.surgeons_funnel(view, monitored.lead(), sites[:1])
    assert whole is not None
    assert [unit.name for unit in whole.units] == ["Ann", "Bob", "Cleo"]
    own = drift.surgeons_funnel(view, people[0], sites[:1])
    assert own is not None
    assert [(unit.name, unit.events, unit.evaluable) for unit in own.units] == [(YOU, 4, 12)]
    assert own.target == whole.target


def test_a_site_without_the_policy_is_in_no_surgeons_point(sites: list[Site]) -> None:
    people = [builders.person(name, north="surgeon") for name in ("ann", "bob", "cleo")]
    given = of_surgeons(*people)
    given.cases.loc[given.cases.index[:6], "site"] = "south"
    monitored.policy(sites[0])
    lead = builders.person("both", north="quality_lead", south="quality_lead")
    found = drift.surgeons_funnel(watching(sites, given), lead, sites)
    assert found is not None
    assert {unit.name: unit.operated for unit in found.units} == {"Ann": 6, "Bob": 12, "Cleo": 12}


def test_the_right_at_one_site_opens_no_surgeon_of_another(sites: list[Site]) -> None:
    people = [builders.person(name, north="surgeon") for name in ("ann", "bob", "cleo")]
    for site in sites:
        monitored.policy(site)
    somebody = builders.person("half", north="quality_lead", south="surgeon")
    found = drift.surgeons_funnel(watching(sites, of_surgeons(*people)), somebody, sites)
    assert found is not None
    assert found.units == ()


def test_two_surgeons_of_one_name_are_told_apart(sites: list[Site]) -> None:
    twins = [builders.person(name, north="surgeon") for name in ("ann-one", "ann-two", "bob")]
    for one in twins[:2]:
        Person.objects.filter(pk=one.pk).update(shown_name="Ann")
    names = drift.surgeon_names(of_surgeons(*twins).cases["surgeon_id"])
    assert sorted(names.values()) == ["Ann (ann-one)", "Ann (ann-two)", "Bob"]


def test_the_last_year_is_checked_against_all_before_it(sites: list[Site]) -> None:
    given = frames([False] * 60, begins=TODAY - timedelta(days=60 * 12), every_days=12)
    view = watching(sites, given)
    period = drift.period_of(view)
    assert (period.since, period.until) == (TODAY - timedelta(days=365), TODAY)
    found = drift.checks_of(view, sites)
    assert found.since + found.before == 60
    assert found.since == 30
    assert found.delays[0].median == 3


def test_the_days_of_an_address_are_those_that_are_checked(sites: list[Site]) -> None:
    given = frames([False] * 20, every_days=30)
    since = BEGAN + timedelta(days=300)
    view = watching(sites, given, operated_from=since)
    assert drift.period_of(view).since == since
    found = drift.checks_of(view, sites)
    assert (found.before, found.since) == (10, 10)


def test_a_site_is_checked_by_its_own_operations_only(sites: list[Site]) -> None:
    given = frames([False] * 20, begins=TODAY - timedelta(days=400), every_days=20)
    given.cases.loc[given.cases.index[10:], "site"] = "south"
    since = TODAY - drift.LAST
    with pytest.raises(Unchosen):
        drift.checks_of_site(sites[0], given, since, TODAY)
    found = drift.checks_of_site(sites[0], given, since, TODAY, "rise-3mm")
    assert (found.before, found.since) == (2, 8)


def test_a_chart_is_checked_against_its_own_baseline(sites: list[Site]) -> None:
    design = monitored.design(sites[0])
    given = frames([False] * 90, site="north")
    found = drift.checks_of_chart(design, given)
    assert (found.before, found.since) == (78, 12)
