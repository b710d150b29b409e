"""Range of motion."""

from datetime import date
from typing import Any

import pytest

from followup.models import MotionExam
from followup.services import motion
from registry.errors import BadInput
from registry.models import AuditEntry, Injury
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db

DAY = date(2026, 7, 17)


def examined(of: Injury | None = None, **values: Any) -> MotionExam:
    hurt = of or builders.injury()
    return motion.record_motion(
        injury=hurt,
        values={"examined_on": DAY, "side": "left", "mode": "active", **values},
        by=hurt.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_motion_keeps_its_angles_in_degrees_and_the_landmark_of_the_thumb() -> None:
    examined(flexion_deg=140, abduction_deg=130, external_rotation_deg=-5, internal_rotation="t12")
    kept = MotionExam.objects.get()
    assert (kept.flexion_deg, kept.abduction_deg, kept.external_rotation_deg) == (140, 130, -5)
    assert kept.internal_rotation == "t12"


@pytest.mark.parametrize(
    ("on", "says"),
    [
        (date(2026, 11, 26), "2026-11-26 is in the future"),
        (date(2026, 5, 31), "2026-05-31 is before the injury"),
    ],
)
def test_motion_of_an_impossible_day_is_refused(on: date, says: str) -> None:
    with pytest.raises(BadInput) as refused:
        examined(examined_on=on, flexion_deg=140)
    assert says in refused.value.faults["examined_on"]
    assert not MotionExam.objects.exists()


@pytest.mark.parametrize(
    "values",
    [{"flexion_deg": 191}, {"abduction_deg": 191}, {"external_rotation_deg": -61}],
    ids=str,
)
def test_an_angle_that_no_shoulder_reaches_is_refused(values: dict[str, int]) -> None:
    with pytest.raises(BadInput):
        examined(**values)
    assert not MotionExam.objects.exists()


def test_examined_again_on_one_day_the_exam_is_corrected_and_the_trail_says_so() -> None:
    hurt = builders.injury()
    examined(hurt, flexion_deg=140, abduction_deg=130)
    examined(hurt, flexion_deg=150)
    kept = MotionExam.objects.get()
    assert (kept.flexion_deg, kept.abduction_deg, kept.version) == (150, 130, 2)
    assert AuditEntry.objects.latest("id").reason == "examined again"


def test_an_impossible_correction_leaves_the_exam_as_it_was() -> None:
    hurt = builders.injury()
    examined(hurt, flexion_deg=140)
    with pytest.raises(BadInput):
        examined(hurt, flexion_deg=191)
    assert MotionExam.objects.get().flexion_deg == 140


@pytest.mark.parametrize(
    "other", [{"side": "right"}, {"mode": "passive"}, {"examined_on": date(2026, 7, 18)}], ids=str
)
def test_another_side_mode_or_day_is_another_exam(other: dict[str, Any]) -> None:
    hurt = builders.injury()
    examined(hurt, flexion_deg=140)
    examined(hurt, flexion_deg=170, **other)
    assert set(MotionExam.objects.values_list("flexion_deg", flat=True)) == {140, 170}
