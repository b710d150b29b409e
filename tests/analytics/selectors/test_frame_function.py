from datetime import timedelta
from typing import Any

import pandas as pd
import pytest

from analytics.selectors import frame_function, frames
from followup.models import MotionExam
from followup.services import motion, scores
from registry.models import Procedure
from tests.analytics.records import OPERATED, operation
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def examine(of: Procedure, day: int, **values: Any) -> MotionExam:
    return motion.record_motion(
        injury=of.injury,
        values={
            "examined_on": OPERATED + timedelta(days=day),
            "side": of.injury.side,
            "mode": "active",
            **values,
        },
        by=of.recorded_by,
        now=NOW,
        today=TODAY,
    )


def score(of: Procedure, day: int, instrument: str = "quickdash", **values: Any) -> None:
    scores.record_score(
        injury=of.injury,
        instrument=instrument,
        taken_on=OPERATED + timedelta(days=day),
        by=of.recorded_by,
        now=NOW,
        today=TODAY,
        **values,
    )


def test_motion_has_a_row_for_each_movement_with_its_step() -> None:
    done = operation()
    examine(done, 90, flexion_deg=120, internal_rotation="t12")
    found = frames.build(None, TODAY).motion
    assert found["movement"].tolist() == ["flexion", "internal_rotation"]
    assert found["value_deg"].tolist()[0] == 120
    assert pd.isna(found["value_deg"].tolist()[1])
    assert found["level"].tolist()[1] == "t12"
    assert found["level_rank"].tolist() == [pd.NA, 4]
    assert set(found["side"]) == {"injured"}
    assert set(found["mode"]) == {"active"}
    assert found["day"].tolist() == [90, 90]
    assert set(found["horizon"]) == {"3m"}
    assert found["procedure_id"].tolist() == [done.pk, done.pk]
    assert found["missing"].tolist() == ["", ""]


def test_the_other_side_is_called_the_other() -> None:
    done = operation()
    examine(done, 90, side="right", flexion_deg=170)
    assert frames.build(None, TODAY).motion["side"].tolist() == ["other"]


def test_a_movement_that_was_not_done_says_so() -> None:
    done = operation()
    exam = examine(done, 90, flexion_deg=120)
    MotionExam.objects.filter(pk=exam.pk).update(missing={"abduction_deg": "not_done"})
    found = frames.build(None, TODAY).motion
    assert found["movement"].tolist() == ["abduction", "flexion"]
    assert found["missing"].tolist() == ["not_done", ""]


def test_levels_are_ordered_from_the_lowest() -> None:
    assert frame_function.LEVELS == {"thigh": 0, "buttock": 1, "ls": 2, "l3": 3, "t12": 4, "t7": 5}


def test_a_score_has_its_total_its_step_and_how_it_was_given() -> None:
    done = operation()
    score(done, 365, total=12.5, mode="phone")
    score(done, 250, items={1: 1})
    first, second = frames.build(None, TODAY).scores.to_dict("records")
    assert (second["total"], second["mode"], second["hardware_in_place"]) == (12.5, "phone", "yes")
    assert (second["step"], second["horizon"], second["in_window"]) == ("12m", "12m", True)
    assert (first["step"], first["horizon"], first["in_window"]) == ("", "", False)
    assert pd.isna(first["total"])
    assert second["day"] == 365


def test_what_came_after_the_cut_off_is_in_neither() -> None:
    done = operation()
    examine(done, 90, flexion_deg=120)
    score(done, 90, total=12.5)
    early = frames.build(None, OPERATED + timedelta(days=89))
    assert early.motion.empty
    assert early.scores.empty
    built = frames.build(None, TODAY)
    assert early.scores.columns.tolist() == built.scores.columns.tolist()
    assert early.motion.columns.tolist() == built.motion.columns.tolist()
    assert len(frame_function.scores(built.cases, built.reviews, TODAY)) == 1
    assert len(frame_function.motion(built.cases, built.reviews, TODAY)) == 1
