from dataclasses import replace
from datetime import date, timedelta

import pytest

from analytics.models import ChartCase, Snapshot
from analytics.selectors import pack_drift
from analytics.selectors.cohorts import CohortRule
from analytics.selectors.pack_asked import Asked
from registry.models import Person, Site
from tests import builders
from tests.analytics import monitored
from tests.analytics.selectors.test_drift import of_surgeons
from tests.builders import NOW, TODAY

LOSS = "funnels-loss-of-reduction-surgeons"


@pytest.fixture
def north(db: None) -> Site:
    return builders.site("north")


def asked(by: Person, north: Site, people: list[Person], **rule: object) -> Asked:
    snapshot = Snapshot(taken_at=NOW, cutoff=TODAY, row_counts={}, code_version="1")
    given = CohortRule(**{"definition_id": "rise-3mm", "horizon": "6m", **rule})  # type: ignore[arg-type]
    return Asked(given, [north], snapshot, of_surgeons(*people), by)


@pytest.fixture
def people(north: Site) -> list[Person]:
    return [builders.person(name, north="surgeon") for name in ("ann", "bob", "cleo")]


def units(made: object, name: str) -> list[str]:
    tables = made.tables  # type: ignore[attr-defined]
    return [row[0] for table in tables if table.name == name for row in table.rows]


def test_all_surgeons_are_shown_by_the_right_of_whoever_asked(
    north: Site, people: list[Person]
) -> None:
    monitored.policy(north)
    made = pack_drift.funnels(asked(monitored.lead(), north, people))
    assert units(made, LOSS) == ["Ann", "Bob", "Cleo"]
    own = pack_drift.funnels(asked(people[1], north, people))
    assert units(own, LOSS) == ["you"]


def test_without_a_policy_no_surgeon_is_shown(north: Site, people: list[Person]) -> None:
    made = pack_drift.funnels(asked(monitored.lead(), north, people))
    assert units(made, LOSS) == []
    assert "Funnels of surgeons are off" in made.notes[0]


def test_a_pack_of_one_surgeon_sets_all_surgeons_beside_each_other(
    north: Site, people: list[Person]
) -> None:
    monitored.policy(north)
    ask = asked(monitored.lead(), north, people, surgeon_id=people[0].pk)
    assert units(pack_drift.funnels(ask), LOSS) == ["Ann", "Bob", "Cleo"]


def test_checks_are_of_the_last_year_against_those_before(
    north: Site, people: list[Person]
) -> None:
    made = pack_drift.checks(asked(monitored.lead(), north, people))
    assert made.sentence.startswith("Those operated from 25 Nov 2025 to 25 Nov 2026")
    # The checks are at the earliest horizon that is asked for, whatever the pack's.
    later = pack_drift.checks(asked(monitored.lead(), north, people, horizon="24m"))
    assert later.tables[0].data == made.tables[0].data


def test_where_no_definition_is_chosen_it_says_so(north: Site, people: list[Person]) -> None:
    ask = asked(monitored.lead(), north, people, definition_id="")
    for section in (pack_drift.checks, pack_drift.funnels):
        assert "No primary definition is chosen" in section(ask).sentence


def test_a_chart_shows_what_had_come_in_by_the_cut_off(north: Site, people: list[Person]) -> None:
    row = monitored.signal(north)
    taken = row.design.cases.count()
    ask = asked(monitored.lead(), north, people)
    made = pack_drift.charts(ask)
    assert made.tables[0].rows[0][1] == str(taken)
    assert len(made.beside[0].data) == taken
    ChartCase.objects.create(
        design=row.design,
        position=taken,
        case_id=99_999,
        performed_on=date(2026, 1, 1),
        outcome=True,
        expected=0.1,
        entered_on=TODAY + timedelta(days=1),
    )
    assert pack_drift.charts(ask) == made
    later = replace(ask, snapshot=Snapshot(taken_at=NOW, cutoff=TODAY + timedelta(days=1)))
    assert pack_drift.charts(later).tables[0].rows[0][1] == str(taken + 1)


def test_where_charts_are_off_it_says_at_which_site(north: Site, people: list[Person]) -> None:
    made = pack_drift.charts(asked(monitored.lead(), north, people))
    assert made.sentence == "No running chart is fixed at these sites."
    assert "off at North Hospital" in made.notes[0]
