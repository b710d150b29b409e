from datetime import timedelta
from typing import Any

import pytest

from analytics.models import AlertPlan, LossAlert
from analytics.rules.alert_plans import PLANS
from analytics.services.alert_plans import acknowledge, task_key
from followup.models import Task
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models import AuditEntry, Person
from tests.analytics.losses import alerted
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
LATER = TODAY + timedelta(days=14)


def plan(alert: LossAlert, by: Person, **values: Any) -> LossAlert:
    given = {"plan": "observe", "due_on": LATER, "note": "", "expected_version": alert.version}
    return acknowledge(alert=alert, by=by, now=NOW, today=TODAY, **{**given, **values})


def test_the_plans_of_the_rules_are_those_of_the_rows() -> None:
    assert list(PLANS) == AlertPlan.values


@pytest.mark.parametrize("which", AlertPlan.values)
def test_a_plan_acknowledges_and_opens_its_task(which: str, surgeon: Person) -> None:
    alert = plan(alerted(surgeon=surgeon), surgeon, plan=which, note="both shoulders")
    assert (alert.state, alert.plan, alert.due_on, alert.version) == ("planned", which, LATER, 2)
    task = Task.objects.get(key=task_key(alert))
    assert (task.patient, task.due_on, task.site) == (
        alert.procedure.injury.patient,
        LATER,
        alert.site,
    )
    assert task.words == f"{PLANS[which].task}. both shoulders"
    last = alert.steps.latest("id")
    assert (last.kind, last.by) == ("planned", surgeon)
    assert last.words.startswith(PLANS[which].name)
    assert last.words.endswith("both shoulders")
    assert AuditEntry.objects.filter(table="analytics_lossalert", person_id=surgeon.pk).exists()


def test_planned_anew_the_earlier_task_is_closed_and_one_stands(surgeon: Person) -> None:
    alert = plan(alerted(surgeon=surgeon), surgeon)
    plan(alert, surgeon, plan="revise", due_on=TODAY)
    rows = Task.objects.filter(key=task_key(alert)).order_by("id")
    assert [row.done_at is None for row in rows] == [False, True]
    assert rows[1].words == PLANS["revise"].task + "."


def test_who_saw_an_older_version_is_refused_and_nothing_is_saved(surgeon: Person) -> None:
    alert = plan(alerted(surgeon=surgeon), surgeon)
    with pytest.raises(StaleVersion):
        plan(alert, surgeon, plan="revise", expected_version=1)
    alert.refresh_from_db()
    assert (alert.plan, alert.version) == ("observe", 2)
    assert Task.objects.filter(key=task_key(alert)).count() == 1


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"plan": "wait"}, "plan"),
        ({"due_on": None}, "due_on"),
        ({"due_on": TODAY - timedelta(days=1)}, "due_on"),
    ],
)
def test_a_plan_that_says_nothing_is_refused(
    values: dict[str, Any], field: str, surgeon: Person
) -> None:
    alert = alerted(surgeon=surgeon)
    with pytest.raises(BadInput) as refused:
        plan(alert, surgeon, **values)
    assert set(refused.value.faults) == {field}
    alert.refresh_from_db()
    assert alert.state == "open"
    assert not Task.objects.filter(key=task_key(alert)).exists()


def test_what_is_no_longer_so_cannot_be_planned(surgeon: Person) -> None:
    alert = alerted(surgeon=surgeon)
    LossAlert.objects.update(state="taken_back", closed_at=NOW, closed_because="read again")
    alert.refresh_from_db()
    with pytest.raises(IllegalTransition, match="no longer so"):
        plan(alert, surgeon)
