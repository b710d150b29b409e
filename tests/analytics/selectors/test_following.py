from typing import Any

import pytest

from analytics.selectors import cohorts, frames, outcomes
from analytics.selectors.following import Following, tables
from analytics.services import snapshots
from followup.services import scores
from registry.models import Procedure
from tests import builders
from tests.analytics.records import OPERATED, held, lost, operation
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def following(**rule: Any) -> Following:
    snapshot = snapshots.as_of(now=NOW, cutoff=TODAY)
    asked = cohorts.CohortRule(**rule)
    sites = [builders.site()]
    return Following(outcomes.given(asked, sites, snapshot, frames.build(None, TODAY)))


@pytest.fixture
def three() -> tuple[Procedure, Procedure, Procedure]:
    """Give one that held, one that was lost, one that nobody saw again."""
    return held(construct="HP"), lost(construct="LP"), operation(construct="LP")


def test_every_number_of_the_flow_opens_exactly_its_cases(
    three: tuple[Procedure, ...],
) -> None:
    found = following()
    whole = found.flows()["all"]
    parts = [stage.part for stage in whole.stages] + list(whole.ends)
    parts += [part for stage in whole.stages for part in stage.left]
    for part in parts:
        behind = found.behind(part.code, "")
        assert behind is not None
        assert (behind.words, behind.cases) == (part.words, part.cases)
    held_one, lost_one, unseen = (one.pk for one in three)
    assert {part.code: part.cases for part in whole.ends} == {
        "end:event": (lost_one,),
        "end:held": (held_one,),
    }
    left = found.behind("eligible:not_seen", "")
    assert left is not None
    assert left.cases == (unseen,)


def test_a_number_of_one_group_opens_its_own(three: tuple[Procedure, ...]) -> None:
    found = following()
    behind = found.behind("operated", "HP")
    assert behind is not None
    assert behind.cases == (three[0].pk,)
    assert found.behind("operated", "XX") is None
    assert found.behind("shoe", "") is None


def test_each_step_and_each_silence_opens_too(three: tuple[Procedure, ...]) -> None:
    # Nobody attended a review, and the planner has left those of the past open.
    found = following()
    behind = found.behind("12m:open", "")
    assert behind is not None
    assert set(behind.cases) == {one.pk for one in three}
    silent = found.behind("silent:12m", "")
    assert silent is not None
    assert len(silent.cases) == 3


def test_a_score_at_home_makes_a_responder(three: tuple[Procedure, ...]) -> None:
    one = three[0]
    scores.record_score(
        injury=one.injury,
        instrument="pain_nrs",
        taken_on=OPERATED.replace(year=OPERATED.year + 1),
        total=2,
        mode="remote",
        by=one.recorded_by,
        now=NOW,
        today=TODAY,
    )
    answered = following().behind("answered:12m", "")
    assert answered is not None
    assert answered.cases == (one.pk,)


def test_the_lost_are_compared_with_the_followed(three: tuple[Procedure, ...]) -> None:
    compared = following().balances()
    assert (compared["lost"].one, compared["lost"].numbers) == ("followed", (1, 2))
    assert compared["silent"].numbers == (0, 3)


def test_another_site_is_not_in_it(three: tuple[Procedure, ...]) -> None:
    held("south")
    assert following().flows()["all"].numbers["operated"] == 3


def test_every_table_can_be_taken_along(three: tuple[Procedure, ...]) -> None:
    found = tables(following(), 0.15)
    assert {name for name, rows in found.items() if not rows} == {"silent"}
    assert found["completeness"][-1]["operated"] == 3
    assert found["tipping"][-1]["supposing"] == "all had it"
