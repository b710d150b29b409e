from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from analytics.answers import risks
from analytics.models import ChartCase, ChartDesign, Signal
from analytics.selectors import monitoring
from analytics.services import charts, policies
from registry.errors import BadInput, StaleVersion
from registry.models import Site
from tests import builders
from tests.analytics import monitored
from tests.analytics.monitored import BEGAN, STARTS, but, frames
from tests.analytics.records import held, lost
from tests.builders import NOW, TODAY

USUAL = [n % 10 == 0 for n in range(78)]


@pytest.fixture
def site(db: None) -> Site:
    return builders.site()


def test_a_design_keeps_its_expected_risk_its_limit_and_what_the_limit_costs(site: Site) -> None:
    row = monitored.design(site)
    basis = risks.from_plain(row.basis)
    assert (basis.cases, basis.events) == (78, 8)
    assert basis.words.startswith("one rate of 10.8%, from 8 events in 78 cases")
    assert row.false_alarm >= 60
    assert 0 < row.delay < row.false_alarm
    assert (row.definition_id, row.definition_version, row.version) == ("rise-3mm", 1, 1)
    assert row.fixed_by == row.owner


def test_what_comes_later_does_not_move_a_design(site: Site) -> None:
    row = monitored.design(site)
    before = ChartDesign.objects.values().get(pk=row.pk)
    worse = frames([*USUAL, *[True] * 30], site="north")
    charts.take_in(design=row, frames=worse, on=TODAY)
    assert ChartDesign.objects.values().get(pk=row.pk) == before
    (expected,) = set(row.cases.values_list("expected", flat=True))
    assert expected == pytest.approx(8.5 / 79, abs=1e-9)


def test_a_change_of_the_design_is_another_chart_beside_the_old_one(site: Site) -> None:
    first = monitored.design(site)
    charts.take_in(design=first, frames=frames([*USUAL, *[False] * 9], site="north"), on=TODAY)
    second = monitored.design(site, version=1, odds_ratio=3.0, reason="larger changes only")
    first.refresh_from_db()
    assert (first.superseded, second.superseded, second.version) == (True, False, 2)
    assert first.cases.count() == 9
    assert second.cases.count() == 0


def test_whoever_saw_an_older_design_is_told(site: Site) -> None:
    monitored.design(site)
    with pytest.raises(BadInput, match="watched already"):
        monitored.design(site)
    monitored.design(site, version=1)
    with pytest.raises(StaleVersion, match="Loss of reduction, North Hospital"):
        monitored.design(site, version=1)


def test_charts_of_construct_types_stand_beside_that_of_all(site: Site) -> None:
    monitored.design(site)
    row = monitored.design(site, construct_type="LP")
    assert row.version == 1
    assert str(row) == "Loss of reduction, LP, North Hospital"
    with pytest.raises(BadInput, match="has 0 judged cases"):
        monitored.design(site, construct_type="HP")


def test_the_risk_is_adjusted_where_the_events_allow_it(site: Site) -> None:
    women = frames([n % 3 == 0 for n in range(78)], site="north")
    women.cases["sex"] = ["female" if n % 2 else "male" for n in range(78)]
    row = monitored.design(site, women, covariates=("female",))
    assert [term["code"] for term in row.basis["terms"]] == ["female"]
    few = monitored.design(site, version=1, covariates=("age", "female"))
    assert few.basis["terms"] == []
    assert "2 covariates would need 20 events" in few.basis["words"]


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"horizon": "24m"}, "horizon", "Choose one of 6m, 3m, 12m"),
        ({"odds_ratio": 1.0}, "odds_ratio", "and not 1"),
        ({"odds_ratio": 50.0}, "odds_ratio", "from 0.1 to 10"),
        ({"run_length": 5}, "run_length", "from 20 to 100000 cases"),
        ({"baseline_to": date(2022, 1, 1)}, "baseline_to", "ends before it begins"),
        ({"baseline_to": date(2023, 3, 1)}, "baseline_to", "has 9 judged cases"),
        ({"starts_on": date(2024, 6, 30)}, "starts_on", "starts after its baseline"),
        ({"answer_days": 0}, "answer_days", "from 1 to 180"),
        ({"reason": " "}, "reason", "Say why"),
    ],
)
def test_what_cannot_be_a_design_is_refused(
    site: Site, changes: dict[str, Any], field: str, words: str
) -> None:
    with pytest.raises(BadInput) as refused:
        monitored.design(site, **changes)
    assert words in refused.value.faults[field]
    assert not ChartDesign.objects.exists()


def test_an_owner_is_somebody_who_may_settle_signals_there(site: Site) -> None:
    for stranger in (builders.person("selma", north="surgeon"), monitored.lead("south")):
        with pytest.raises(BadInput, match="may settle signals at this site"):
            monitored.design(site, owner=stranger)


def test_without_a_policy_in_force_no_chart_is_fixed(site: Site) -> None:
    owner = monitored.lead()
    given = {
        "site": site,
        "wanted": monitored.wanted(owner),
        "frames": frames(USUAL, site="north"),
        "by": owner,
        "now": NOW,
        "today": TODAY,
    }
    with pytest.raises(BadInput, match="no written policy in force"):
        charts.fix_design(**given)
    monitored.policy(site, charts=False)
    with pytest.raises(BadInput, match="no written policy in force"):
        charts.fix_design(**given)
    monitored.policy(site)
    with pytest.raises(BadInput, match="No primary definition is chosen"):
        charts.fix_design(**given)


def test_cases_come_in_by_their_operations_once_they_have_settled(site: Site) -> None:
    row = monitored.design(site)
    later = frames([*USUAL, True, False, True], site="north")
    assert charts.take_in(design=row, frames=later, on=TODAY) == 3
    cases = list(row.cases.order_by("position"))
    assert [case.position for case in cases] == [0, 1, 2]
    assert [case.outcome for case in cases] == [True, False, True]
    assert [case.case_id for case in cases] == [79, 80, 81]
    assert cases[0].performed_on == BEGAN + timedelta(days=7 * 78) >= STARTS


def test_taking_in_twice_is_taking_in_once(site: Site) -> None:
    row = monitored.design(site)
    later = frames([*USUAL, True, False], site="north")
    charts.take_in(design=row, frames=later, on=TODAY)
    before = list(ChartCase.objects.values())
    assert charts.take_in(design=row, frames=later, on=TODAY) == 0
    assert list(ChartCase.objects.values()) == before


def test_a_case_that_is_judged_late_comes_last_and_moves_nobody(site: Site) -> None:
    row = monitored.design(site)
    whole = frames([*USUAL, False, True, False], site="north")
    unread = whole.readings["procedure_id"] == 79
    charts.take_in(design=row, frames=but(whole, readings=whole.readings[~unread]), on=TODAY)
    charts.take_in(design=row, frames=whole, on=TODAY)
    assert list(row.cases.values_list("case_id", flat=True)) == [80, 81, 79]


def test_a_case_keeps_the_value_with_which_it_came_in(site: Site) -> None:
    row = monitored.design(site)
    charts.take_in(design=row, frames=frames([*USUAL, False], site="north"), on=TODAY)
    charts.take_in(design=row, frames=frames([*USUAL, True], site="north"), on=TODAY)
    assert list(row.cases.values_list("outcome", flat=True)) == [False]


def feed(row: ChartDesign, outcomes: list[bool]) -> int:
    """Let a chart take in invented cases; return how many signals they raise."""
    given = frames([*USUAL, *outcomes], every_days=1, begins=STARTS - timedelta(days=78))
    charts.take_in(design=row, frames=given, on=TODAY)
    return len(monitoring.read(row, monitoring.rows_of(row)).crossings)


def test_a_simulated_site_out_of_control_is_found(site: Site) -> None:
    row = monitored.design(site, run_length=200)
    risk = float(8.5 / 79)
    odds = 4 * risk / (1 - risk)
    drifted = np.random.default_rng(7).random(150) < odds / (1 + odds)
    assert feed(row, drifted.tolist()) >= 1


def test_a_simulated_site_in_control_gives_as_many_false_alarms_as_the_design_says(
    site: Site,
) -> None:
    row = monitored.design(site, run_length=30)
    cases = 300
    outcomes = np.random.default_rng(11).random(cases) < 8.5 / 79
    alarms = feed(row, outcomes.tolist())
    # Alarms come about as a Poisson number does: within three of its standard deviations.
    usual = cases / row.false_alarm
    assert abs(alarms - usual) <= 3 * np.sqrt(usual)


@pytest.mark.usefixtures("defaults")
def test_the_watch_takes_in_what_has_settled_and_opens_each_signal_once(site: Site) -> None:
    row = monitored.design(site, run_length=20)
    for _ in range(4):
        lost()
    held()
    counts = charts.watch(now=NOW, today=TODAY)
    assert counts["cases taken in"] == 5
    assert counts["signals raised"] == Signal.objects.filter(design=row).count() >= 1
    rows = list(Signal.objects.values())
    again = charts.watch(now=NOW, today=TODAY)
    assert (again["cases taken in"], again["signals raised"]) == (0, 0)
    assert list(Signal.objects.values()) == rows


@pytest.mark.usefixtures("defaults")
def test_nothing_is_watched_where_the_policy_has_ended(site: Site) -> None:
    row = monitored.design(site)
    policies.switch_off(site=site, because="over", by=row.owner, now=NOW, expected_version=1)
    lost()
    assert charts.watch(now=NOW, today=TODAY)["charts"] == 0
    assert not ChartCase.objects.exists()


@pytest.mark.usefixtures("defaults")
def test_a_chart_whose_definition_has_changed_waits_to_be_fixed_anew(site: Site) -> None:
    row = monitored.design(site)
    ChartDesign.objects.filter(pk=row.pk).update(definition_version=0)
    lost()
    assert charts.watch(now=NOW, today=TODAY)["charts to be fixed anew"] == 1
    assert not ChartCase.objects.exists()
