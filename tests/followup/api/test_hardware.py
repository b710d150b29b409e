"""Hardware decisions over the interface."""

from collections.abc import Callable
from typing import Any

import pytest

from followup.models import HardwareDecision
from registry.models import Person, Procedure
from tests import builders
from tests.api import Program, cost, signed_in

pytestmark = pytest.mark.django_db
URL = "/api/v1/hardware-decisions/"


@pytest.fixture
def api(surgeon: Person) -> Program:
    return signed_in(surgeon)


def question(procedure: Procedure, **changes: Any) -> dict[str, Any]:
    return {"procedure": procedure.pk, "raised_because": "symptoms", "reason": "hurts", **changes}


def test_the_question_is_raised_once_while_it_is_open(api: Program) -> None:
    row = builders.procedure()
    answer = api.post(URL, question(row))
    assert (answer.status_code, answer["ETag"]) == (201, '"1"')
    body = answer.json()
    assert (body["state"], body["raised_on"], body["reason"]) == ("raised", "2026-11-25", "hurts")
    assert api.post(URL, question(row)).status_code == 409
    assert HardwareDecision.objects.count() == 1


def test_the_service_alone_raises_planned_removals(api: Program) -> None:
    sent = question(builders.procedure(), raised_because="planned_removal")
    assert "by itself" in api.post(URL, sent).json()["faults"]["raised_because"][0]


def test_a_decision_is_recorded_over_its_version(api: Program) -> None:
    row = api.post(URL, question(builders.procedure())).json()
    url = f"{URL}{row['id']}/"
    change = {"state": "deferred", "deferred_until": "2027-02-01", "reason": "wants to wait"}
    assert api.patch(url, change).status_code == 428
    answer = api.change(url, change)
    assert (answer.status_code, answer["ETag"]) == (200, '"2"')
    assert (answer.json()["state"], answer.json()["decided_on"]) == ("deferred", "2026-11-25")
    assert api.change(url, change).status_code == 412


def test_a_plan_keeps_its_day_when_only_its_words_change(api: Program) -> None:
    row = api.post(URL, question(builders.procedure())).json()
    url = f"{URL}{row['id']}/"
    api.change(url, {"state": "planned", "wish_on": "2027-01-15"})
    answer = api.change(url, {"reason": "after the exams"}, version=2)
    assert (answer.status_code, answer.json()["wish_on"]) == (200, "2027-01-15")


@pytest.mark.parametrize(
    ("change", "field", "told"),
    [
        ({"state": "deferred", "reason": "x"}, "deferred_until", "a day to come"),
        ({"state": "planned"}, "wish_on", "Give the day on which"),
        ({"state": "declined"}, "reason", "Say why"),
        ({"state": "done"}, "state", "Record the removal itself"),
    ],
)
def test_what_cannot_be_taken_is_named(
    api: Program, change: dict[str, Any], field: str, told: str
) -> None:
    row = api.post(URL, question(builders.procedure())).json()
    answer = api.change(f"{URL}{row['id']}/", change)
    assert told in answer.json()["faults"][field][0]


def test_a_step_that_cannot_follow_is_a_conflict_that_names_both(api: Program) -> None:
    row = api.post(URL, question(builders.procedure())).json()
    url = f"{URL}{row['id']}/"
    api.change(url, {"state": "declined", "reason": "no complaint"})
    answer = api.change(url, {"state": "planned"}, version=2)
    assert answer.status_code == 409
    assert answer.json()["detail"].endswith("is 'declined' and cannot become 'planned'.")


def test_recording_the_removal_settles_the_question(api: Program) -> None:
    row = builders.procedure()
    asked = api.post(URL, question(row)).json()
    removal = {
        "injury": row.injury_id,
        "kind": "implant_removal",
        "performed_on": "2026-10-01",
        "revises": row.pk,
    }
    done = api.post("/api/v1/procedures/", removal).json()
    shown = api.get(f"{URL}{asked['id']}/").json()
    assert (shown["state"], shown["removal"]) == ("done", done["id"])
    assert api.post(URL, question(row)).status_code == 409


def test_who_sees_may_not_always_decide(coordinator: Person, film_reader: Person) -> None:
    row = builders.procedure()
    assert signed_in(coordinator).get(URL).status_code == 200
    assert signed_in(coordinator).post(URL, question(row)).status_code == 403
    assert signed_in(film_reader).get(URL).status_code == 403


def test_another_sites_question_is_not_there(api: Program) -> None:
    theirs = builders.procedure(builders.injury(builders.patient(at=builders.site("south"))))
    row = signed_in(builders.person("sol", south="surgeon")).post(URL, question(theirs)).json()
    assert api.get(f"{URL}{row['id']}/").status_code == 404
    assert "procedure" in api.post(URL, question(theirs)).json()["faults"]


def test_decisions_are_filtered(api: Program) -> None:
    row = builders.procedure()
    first = api.post(URL, question(row)).json()
    api.post(URL, question(builders.procedure(), raised_because="clinician"))
    api.change(f"{URL}{first['id']}/", {"state": "declined", "reason": "no"})

    def found(**wanted: Any) -> int:
        return int(api.get(URL, wanted).json()["count"])

    assert (found(), found(open="true"), found(open="false")) == (2, 1, 1)
    assert (found(state="declined"), found(raised_because="clinician")) == (1, 1)
    assert (found(procedure=row.pk), found(patient=row.injury.patient.key)) == (1, 1)


def test_a_page_costs_the_same_whatever_lies_behind_it(
    api: Program, counted: Callable[[], Any]
) -> None:
    api.post(URL, question(builders.procedure()))
    few = cost(api, URL, counted)
    for _ in range(12):
        api.post(URL, question(builders.procedure()))
    assert cost(api, URL, counted) == few
