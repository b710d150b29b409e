"""Complications over the interface."""

from collections.abc import Callable
from typing import Any

import pytest

from followup.models import Complication
from registry.models import AuditEntry, Person, Procedure
from tests import builders
from tests.api import Program, cost, signed_in

pytestmark = pytest.mark.django_db
URL = "/api/v1/complications/"


@pytest.fixture
def api(surgeon: Person) -> Program:
    return signed_in(surgeon)


def harm(procedure: Procedure, **changes: Any) -> dict[str, Any]:
    return {
        "procedure": procedure.pk,
        "kind": "infection_superficial",
        "detected_on": "2026-07-01",
        **changes,
    }


def test_a_complication_is_recorded_and_read_back(api: Program) -> None:
    row = builders.procedure()
    answer = api.post(URL, harm(row, grade="II", relation="procedure"))
    assert (answer.status_code, answer["ETag"]) == (201, '"1"')
    shown = api.get(f"{URL}{answer.json()['id']}/").json()
    assert (shown["grade"], shown["patient"]) == ("II", row.injury.patient.key)
    assert shown["grade_scheme"] == "orthopaedic-2012"


@pytest.mark.parametrize(
    ("changes", "field", "told"),
    [
        ({"detected_on": "2026-06-01"}, "detected_on", "before the operation"),
        ({"detected_on": "2027-06-01"}, "detected_on", "in the future"),
        ({"kind": "sad"}, "kind", "not a valid choice"),
        ({"onset_earliest": "2026-06-20"}, "onset_latest", "or neither"),
        (
            {"onset_earliest": "2026-06-20", "onset_latest": "2026-06-10"},
            "onset_latest",
            "before the first possible day",
        ),
        (
            {"onset_earliest": "2026-06-20", "onset_latest": "2026-07-10"},
            "onset_latest",
            "after the day on which it was detected",
        ),
        ({"resolved_on": "2026-06-20"}, "resolved_on", "before the day"),
        ({"resolved_on": "2027-06-20"}, "resolved_on", "in the future"),
    ],
)
def test_what_cannot_be_taken_is_named(
    api: Program, changes: dict[str, Any], field: str, told: str
) -> None:
    answer = api.post(URL, harm(builders.procedure(), **changes))
    assert answer.status_code == 400
    assert told in answer.json()["faults"][field][0]
    assert not Complication.objects.exists()


def test_a_complication_is_graded_and_ended_later_with_the_reason(api: Program) -> None:
    row = api.post(URL, harm(builders.procedure())).json()
    url = f"{URL}{row['id']}/"
    change = {"grade": "III", "resolved_on": "2026-09-01", "reason": "readmitted"}
    assert api.patch(url, change).status_code == 428
    assert "reason" in api.change(url, {"grade": "III"}).json()["faults"]
    answer = api.change(url, change)
    assert (answer.json()["grade"], answer["ETag"]) == ("III", '"2"')
    assert AuditEntry.objects.filter(table="followup_complication").latest("id").reason == (
        "readmitted"
    )
    assert api.change(url, change).status_code == 412


def test_a_wrong_complication_is_voided(api: Program) -> None:
    row = api.post(URL, harm(builders.procedure())).json()
    assert api.act(f"{URL}{row['id']}/void/", {"reason": "wrong side"}).status_code == 204
    assert not Complication.objects.exists()


def test_who_sees_may_not_always_write(coordinator: Person, quality_lead: Person) -> None:
    row = builders.procedure()
    assert signed_in(coordinator).get(URL).status_code == 200
    assert signed_in(coordinator).post(URL, harm(row)).status_code == 403
    assert signed_in(quality_lead).get(URL).status_code == 403


def test_another_sites_complication_is_not_there(api: Program) -> None:
    theirs = builders.procedure(builders.injury(builders.patient(at=builders.site("south"))))
    row = signed_in(builders.person("sol", south="surgeon")).post(URL, harm(theirs)).json()
    assert api.get(f"{URL}{row['id']}/").status_code == 404
    assert "procedure" in api.post(URL, harm(theirs)).json()["faults"]


def test_complications_are_filtered(api: Program) -> None:
    row = builders.procedure()
    api.post(URL, harm(row, grade="I"))
    api.post(URL, harm(builders.procedure(), kind="nerve", resolved_on="2026-08-01"))

    def found(**wanted: Any) -> int:
        return int(api.get(URL, wanted).json()["count"])

    assert (found(), found(kind="nerve"), found(grade="I")) == (2, 1, 1)
    assert (found(procedure=row.pk), found(patient=row.injury.patient.key)) == (1, 1)
    assert (found(resolved="true", kind="nerve"), found(resolved="false", grade="I")) == (1, 1)
    assert (found(detected_from="2026-07-02"), found(detected_to="2026-07-01")) == (0, 2)


def test_a_page_costs_the_same_whatever_lies_behind_it(
    api: Program, counted: Callable[[], Any]
) -> None:
    api.post(URL, harm(builders.procedure()))
    few = cost(api, URL, counted)
    for _ in range(12):
        api.post(URL, harm(builders.procedure()))
    assert cost(api, URL, counted) == few
