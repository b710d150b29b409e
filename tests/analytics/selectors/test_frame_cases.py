from datetime import date, timedelta
from typing import Any

import pandas as pd
import pytest

from analytics.selectors import frame_cases, frames
from registry.models import Injury
from tests import builders
from tests.analytics.records import OPERATED, operation
from tests.builders import TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def case(number: int = 0) -> dict[str, Any]:
    return dict(frames.build(None, TODAY).cases.reset_index().iloc[number])


def test_a_case_carries_what_was_known_at_the_operation() -> None:
    operation(
        injury={"mechanism": "sport", "dominant_arm": "left", "bmi_kg_m2": "24.5"},
        operator_grade="trainee",
        reduction_quality="near",
        duration_minutes=55,
    )
    row = case()
    assert (row["mechanism"], row["energy"], row["skin"]) == ("sport", "unknown", "unknown")
    assert (row["operator_grade"], row["reduction_quality"]) == ("trainee", "near")
    assert (row["bmi_kg_m2"], row["bmi_missing"]) == (24.5, "")
    assert (row["duration_minutes"], row["procedure_year"]) == (55, 2025)
    assert row["days_to_surgery"] == 4
    assert row["injured_dominant"] == "yes"
    assert (row["protocol_version"], bool(row["protocol"])) == (1, True)


@pytest.mark.parametrize(
    ("arm", "hit"), [("left", "yes"), ("right", "no"), ("both", "yes"), ("unknown", "unknown")]
)
def test_the_dominant_arm_is_hit_or_not_or_it_is_not_known(arm: str, hit: str) -> None:
    operation(injury={"dominant_arm": arm})
    assert case()["injured_dominant"] == hit


def test_waiting_is_not_made_up_where_the_injurys_day_is_not_known() -> None:
    done = operation()
    Injury.objects.filter(pk=done.injury_id).update(injured_earliest=date(2025, 5, 1))
    assert case()["days_to_surgery"] is pd.NA


def test_why_a_number_is_missing_stays_as_it_was_said() -> None:
    kinds = ({}, {"bmi_kg_m2": "not_done"}, {"bmi_kg_m2": "not_applicable"})
    for missing in kinds:
        done = operation()
        Injury.objects.filter(pk=done.injury_id).update(missing=missing)
    cases = frames.build(None, TODAY).cases
    assert cases["bmi_kg_m2"].isna().all()
    assert cases["bmi_missing"].tolist() == ["unknown", "not_done", "not_applicable"]


def test_operations_of_a_construct_type_are_counted_at_each_site_in_order_of_time() -> None:
    for site, construct, day in (
        ("north", "LP", 3),
        ("north", "LP", 1),
        ("south", "LP", 2),
        ("north", "HP", 4),
    ):
        hurt = builders.injury(builders.patient(at=builders.site(site)))
        on = date(2026, 6, 10) + timedelta(days=day)
        builders.procedure(hurt, {"construct_type": construct}, performed_on=on)
    assert frames.build(None, TODAY).cases["order_at_site"].tolist() == [2, 1, 1, 1]


def test_only_what_lies_up_to_the_day_is_a_case() -> None:
    done = operation()
    assert frame_cases.cases(None, OPERATED).index.tolist() == [done.pk]
    assert frame_cases.cases(None, OPERATED - timedelta(days=1)).empty
    assert list(frame_cases.operated(OPERATED)) == [done]
    assert frame_cases.opted_out(OPERATED) == {}


def test_first_revision_and_removal_come_from_the_later_operations() -> None:
    index = pd.DataFrame(index=pd.Index([1, 2], name="procedure_id"))
    day = pd.Timestamp(2026, 1, 1)
    later = pd.DataFrame(
        {
            "index_id": [1, 1, 2],
            "kind": ["revision_fixation", "revision_fixation", "implant_removal"],
            "performed_on": [day, day + pd.Timedelta(days=9), day],
        }
    )
    planned = pd.DataFrame(
        {"procedure_id": [1, 1], "protocol": ["old", "new"], "protocol_version": [1, 2]}
    )
    made = frame_cases.with_course(index, later, planned)
    assert made["revised_on"].tolist() == [day, pd.NaT]
    assert made["removed_on"].tolist() == [pd.NaT, day]
    assert made.loc[1, ["protocol", "protocol_version"]].tolist() == ["new", 2]
    assert made.loc[2, "protocol_version"] is pd.NA


def test_a_value_is_not_missing() -> None:
    values = pd.Series([1.0, None, None])
    stated = pd.Series([None, "not_done", None], dtype="str")
    assert frame_cases.why_missing(values, stated).tolist() == ["", "not_done", "unknown"]
