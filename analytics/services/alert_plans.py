"""Acknowledging that a reduction may be lost, with what is to happen and by when."""

from datetime import date, datetime

from analytics.models.alerts import AlertState, AlertStepKind, LossAlert, LossAlertStep
from analytics.rules import alert_plans as rules
from followup.services import tasks
from registry.errors import StaleVersion
from registry.models.people import Person
from registry.services import records

# The kind of task of the follow-up that a plan opens.
TASK_KIND = "other"
REPLACED = "planned anew on the alert"


def acknowledge(
    *,
    alert: LossAlert,
    plan: str,
    due_on: date | None,
    note: str,
    by: Person,
    now: datetime,
    today: date,
    expected_version: int,
) -> LossAlert:
    """Acknowledge an alert with a plan, over the version that the user saw, and open its task.

    Planned again, the earlier task is closed and another opened. Raises BadInput for a plan that there
    is not or a day that is missing or over, IllegalTransition once it is no longer so, StaleVersion.
    """
    day = rules.day_of(alert.state, plan, due_on, today)
    said = rules.said(plan, day, note)
    with records.change(by=by, reason=said):
        values = {"state": AlertState.PLANNED, "plan": plan, "due_on": day}
        taken = LossAlert.objects.filter(pk=alert.pk, version=expected_version).update(
            **values, version=expected_version + 1
        )
        if not taken:
            current = LossAlert.objects.values_list("version", flat=True).get(pk=alert.pk)
            raise StaleVersion("The alert", expected=expected_version, current=current)
        LossAlertStep.objects.create(
            alert=alert, kind=AlertStepKind.PLANNED, at=now, by=by, words=said[:500]
        )
        _open_task(alert, plan, day, note, by=by, now=now)
        alert.refresh_from_db()
    return alert


def _open_task(
    alert: LossAlert, plan: str, due_on: date, note: str, *, by: Person, now: datetime
) -> None:
    key = task_key(alert)
    earlier = tasks.standing(key)
    if earlier is not None:
        tasks.close_task(
            task=earlier, note=REPLACED, expected_version=earlier.version, by=by, now=now
        )
    tasks.open_task(
        site=alert.site,
        patient=alert.procedure.injury.patient,
        kind=TASK_KIND,
        words=rules.task_words(plan, note),
        due_on=due_on,
        key=key,
        by=by,
        now=now,
    )


def task_key(alert: LossAlert) -> str:
    """Return the cause by which the task of an alert is known."""
    return f"loss:{alert.pk}"
