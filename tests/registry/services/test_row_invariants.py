"""A reference that leads nowhere, and rows of another site, are found at the very row."""

from datetime import date
from typing import Any

import pytest

from registry.models import Injury, PatientSite, Procedure
from registry.services import enrolment
from tests import builders
from tests.builders import NOW, TODAY
from tests.damage import around_triggers, broken, sql

pytestmark = pytest.mark.django_db


def test_a_reference_that_leads_nowhere_is_found(damaging: dict[str, Any]) -> None:
    key = damaging["task_id"]
    assert sql("UPDATE followup_task SET review_id = 999999 WHERE id = %s", key) == 1
    found = broken()
    assert list(found) == ["references"]
    assert found["references"] == [
        f"followup_task {key}: its review_id leads to followup_review 999999, which is not there"
    ]


def test_a_child_of_another_site_is_found(damaging: dict[str, Any]) -> None:
    south, key = builders.site("south").pk, damaging["complication_id"]
    assert sql("UPDATE followup_complication SET site_id = %s WHERE id = %s", south, key) == 1
    assert broken() == {
        "sites": [f"followup_complication {key}: it is of another site than its procedure"]
    }


def test_an_injury_whose_patient_is_not_known_at_its_site_is_found(
    damaging: dict[str, Any],
) -> None:
    PatientSite.objects.filter(patient=damaging["patient_id"]).delete()
    found = broken()
    assert list(found) == ["patients_at_sites"]
    assert f"registry_injury {damaging['injury_id']}: " in found["patients_at_sites"][0]


def revised(index: int, **values: Any) -> Procedure:
    first = Procedure.objects.get(pk=index)
    return enrolment.record_procedure(
        injury=first.injury,
        values={
            "kind": "revision_fixation",
            "performed_on": date(2026, 9, 1),
            "revises": first,
            **values,
        },
        by=first.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_a_revision_of_another_injury_is_found(damaging: dict[str, Any]) -> None:
    later = revised(damaging["bare_procedure_id"])
    assert broken() == {}
    query = "UPDATE registry_procedure SET revises_id = %s WHERE id = %s"
    assert sql(query, damaging["procedure_id"], later.pk) == 1
    assert broken() == {
        "revisions": [f"registry_procedure {later.pk}: it revises an operation of another injury"]
    }


def test_a_carrier_that_stands_elsewhere_than_its_last_step_is_found(
    damaging: dict[str, Any],
) -> None:
    key = damaging["carrier_id"]
    assert sql("UPDATE registry_noticecarrier SET state = 'died' WHERE id = %s", key) == 1
    assert broken() == {
        "carriers": [f"registry_noticecarrier {key}: its state is not that of its last step"]
    }


def test_a_carrier_without_a_step_is_found(damaging: dict[str, Any]) -> None:
    around_triggers(
        "DELETE FROM registry_carrierstep WHERE carrier_id = %s", damaging["carrier_id"]
    )
    found = broken()
    # Steps that went without a trace are a fault of their own.
    assert set(found) == {"carriers", "trail_lost"}
    assert Injury.objects.exists()
