import pytest

from analytics.endpoints.catalogue import definitions_of
from analytics.selectors import outcomes
from analytics.selectors.cohorts import CohortRule, Unchosen, rule_from
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
    assert made["primary"] == "chosen by the sites in view"
    assert outcomes.provenance(view(definition="ratio-25"))["primary"] == "named in the address"
    only = outcomes.provenance(view(endpoint="union"))["primary"]
    assert only == "the only one that ships"
    assert made["horizon"] == "6 months"
    assert made["cutoff"] == "2026-11-25"
    assert made["snapshot"] == given.snapshot.content_hash
    assert made["caution"] == "observational: not a treatment effect"


def test_a_view_without_a_definition_is_one_until_somebody_needs_it() -> None:
    given = view()
    assert given.unchosen is not None
    assert outcomes.provenance(given)["definition"] == "none chosen"
    assert "No primary definition is chosen" in outcomes.provenance(given)["primary"]
    with pytest.raises(Unchosen, match="Name one of rise-3mm"):
        outcomes.outcome_answer(given)


def test_every_definition_that_ships_is_gone_through_whatever_was_chosen() -> None:
    held()
    lost()
    found = outcomes.strip_answer(view())
    assert [line.definition.id for line in found.lines] == [
        row.id for row in definitions_of("loss_of_reduction")
    ]
    first = found.lines[0].total
    assert (first.events, first.evaluable) == (1, 2)


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
