import pytest

from analytics.selectors import outcomes
from analytics.selectors.cohorts import CohortRule, rule_from
from analytics.services import snapshots
from analytics.services.definitions import choose_definition
from registry.services import patients
from registry.services.enrolment import ConsentGiven
from tests import builders
from tests.analytics.records import complication, held, lost, operation
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def view(**address: str) -> outcomes.Given:
    snapshot = snapshots.refresh(now=NOW, today=TODAY)
    sites = [builders.site("north")]
    return outcomes.given(rule_from(address), sites, snapshot, snapshots.frames_of(snapshot))


def test_rows_become_a_rate_with_its_denominators() -> None:
    for _ in range(3):
        held()
    lost()
    operation()
    held("south")
    total = outcomes.outcome_answer(view()).total
    assert (total.operated, total.eligible, total.evaluable, total.events) == (5, 5, 4, 1)
    assert total.reasons == {"no_baseline": 1}


def test_complications_become_rates_by_kind() -> None:
    complication(held(), 30, "nerve")
    held()
    answer = outcomes.harm_answer(view(endpoint="any_complication"))
    assert (answer.any_kind.total.events, answer.any_kind.total.evaluable) == (1, 2)
    assert [one.kind for one in answer.kinds] == ["nerve"]


def test_the_smallest_number_at_risk_is_that_of_the_strictest_site() -> None:
    north, south = builders.site("north", min_at_risk=8), builders.site("south", min_at_risk=11)
    snapshot = snapshots.refresh(now=NOW, today=TODAY)
    given = outcomes.given(CohortRule(), [north, south], snapshot, snapshots.frames_of(snapshot))
    assert given.min_at_risk == 11


def test_a_view_says_what_reproduces_it() -> None:
    choose_definition(site=builders.site("north"), definition_id="ratio-25", on=TODAY, by=None)
    held()
    given = view(horizon="6m", neer="IIB")
    made = outcomes.provenance(given)
    assert made["cohort"] == "index procedures of Neer class IIB"
    assert made["definition"] == "ratio-25, version 1"
    assert made["primary"] == "chosen by the service"
    assert made["horizon"] == "6 months"
    assert made["cutoff"] == "2026-11-25"
    assert made["snapshot"] == given.snapshot.content_hash
    assert made["caution"] == "observational: not a treatment effect"


def test_a_view_says_how_many_opted_out_at_its_sites() -> None:
    for site in ("north", "south"):
        gone = operation(site)
        patients.add_consent(
            patient=gone.injury.patient,
            site=gone.site,
            given=ConsentGiven("registry", "opted_out", TODAY, "told in clinic"),
            by=gone.recorded_by,
            now=NOW,
            today=TODAY,
        )
    held()
    given = view()
    assert given.opted_out == 1
    assert outcomes.provenance(given)["left_out"].startswith("1 of patients who opted out")
    assert outcomes.outcome_answer(given).total.operated == 1


def test_the_same_snapshot_gives_the_same_rows() -> None:
    held()
    lost()
    one, two = (outcomes.outcome_answer(view()) for _ in range(2))
    assert one.rows == two.rows
    assert one.sentence == two.sentence
