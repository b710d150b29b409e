from dataclasses import replace
from datetime import timedelta
from typing import Any

import pandas as pd
import pytest

from analytics.selectors import cohorts, frames, outcomes
from analytics.selectors.function import behind, function_answer, measure_of, overview
from analytics.selectors.outcomes import Given
from analytics.services import snapshots
from followup.services import motion, scores
from registry.errors import BadInput
from registry.models import Procedure
from tests import builders
from tests.analytics.records import OPERATED, held, operation
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
YEAR = OPERATED + timedelta(days=365)


def view(**rule: Any) -> Given:
    snapshot = snapshots.as_of(now=NOW, cutoff=TODAY)
    asked = cohorts.CohortRule(**rule)
    return outcomes.given(asked, [builders.site()], snapshot, frames.build(None, TODAY))


def moved(of: Procedure, degrees: int) -> None:
    motion.record_motion(
        injury=of.injury,
        values={
            "examined_on": YEAR,
            "side": of.injury.side,
            "mode": "active",
            "flexion_deg": degrees,
            "internal_rotation": "t12",
        },
        by=of.recorded_by,
        now=NOW,
        today=TODAY,
    )


def hurt(of: Procedure, total: float) -> None:
    scores.record_score(
        injury=of.injury,
        instrument="pain_nrs",
        taken_on=YEAR,
        total=total,
        by=of.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_rows_of_the_database_become_medians() -> None:
    one, two = held(), held()
    operation()
    moved(one, 150)
    moved(two, 160)
    hurt(one, 1)
    given = view()
    flexion = function_answer(given, measure_of("flexion")).at("12m")
    assert flexion is not None
    assert flexion.spread is not None
    assert (flexion.spread.median, flexion.number, flexion.eligible) == (155, 2, 3)
    level = function_answer(given, measure_of("internal_rotation")).at("12m")
    assert level is not None
    assert level.quartiles == ("T12", "T12", "T12")
    pain = function_answer(given, measure_of("")).at("12m")
    assert pain is not None
    assert pain.acceptable is not None
    assert (pain.acceptable.number, pain.acceptable.of) == (1, 1)


def test_the_overview_has_what_was_ever_recorded() -> None:
    one = held()
    hurt(one, 3)
    assert [row.measure.code for row in overview(view())] == ["pain_nrs"]


def test_a_number_opens_the_cases_behind_it() -> None:
    one, two = held(), operation()
    hurt(one, 3)
    found = function_answer(view(), measure_of("pain_nrs"))
    assert behind(found, "12m:has", "") == ("Pain, 0 to 10 at 12 months, with a value", (one.pk,))
    assert behind(found, "12m:missing", "LP") == (
        "Pain, 0 to 10 at 12 months, without one",
        (two.pk,),
    )
    reason = behind(found, "12m:missing:not_seen", "")
    assert reason is not None
    assert reason[0].endswith("not seen")
    assert behind(found, "12m:shoe", "") is None
    assert behind(found, "9y:has", "") is None
    assert behind(found, "12m:has", "XX") is None


def test_a_measure_that_is_none_is_refused() -> None:
    with pytest.raises(BadInput, match="'shoe' is not one of pain_nrs, quickdash"):
        measure_of("shoe")


def test_a_snapshot_without_motion_is_refused_in_words() -> None:
    held()
    given = view()
    bare = replace(given, frames=replace_motion(given.frames))
    with pytest.raises(BadInput, match="taken before reviews, motion and scores were kept"):
        function_answer(bare, measure_of(""))


def replace_motion(whole: Any) -> Any:
    class First:
        """The frames of a snapshot of the first kind: what it never had is empty."""

        motion = pd.DataFrame()
        scores = whole.scores

    return First()
