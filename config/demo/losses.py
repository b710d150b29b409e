"""Whose reduction may be lost among the invented patients: three who wait, and one with a plan."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from analytics.answers.nearness import standing
from analytics.endpoints.catalogue import DEFINITIONS, apply
from analytics.models import CaseToWeigh, LossAlert
from analytics.selectors import frames
from analytics.services import alert_plans, loss_alerts
from config.demo.staff import PRIMARY_DEFINITION, Staff

# Who is warned of had a film within the year; the rest of the invented past is in the figures alone.
LATELY_DAYS = 350
WAITING = ("lost", "lost", "near")
PLAN, PLAN_DAYS = "imaging", 7
NOTE = "Both shoulders on one film, upright."


def warn(staff: Staff, *, now: datetime, today: date) -> int:
    """Weigh a few cases as if their films had just been read; return how many.

    The lead surgeon's come first. Of the lost the last one has a plan. Where an invented service is
    too small for it, fewer wait.
    """
    # What was read while the past was invented is no news.
    CaseToWeigh.objects.all().delete()
    wanted = [*WAITING, "lost"]
    for injury_id, level in _candidates(staff, today):
        if level in wanted:
            wanted.remove(level)
            loss_alerts.mark(injury_id=injury_id, now=now)
    loss_alerts.weigh_marked(now=now, today=today)
    rows = LossAlert.objects.select_related("site", "surgeon", "procedure__injury__patient")
    lost = rows.filter(level="lost").order_by("id")
    if lost.count() > 1:
        _plan(lost[lost.count() - 1], now, today)
    return rows.count()


def _candidates(staff: Staff, today: date) -> Iterator[tuple[int, str]]:
    """Yield injuries whose cases stand lost or near by a film of late, the lead surgeon's first."""
    built = frames.build(None, today)
    cases = built.cases.loc[built.cases["patient_status"] == "active"]
    lead = cases["surgeon_id"] == staff.people["surgeon"].pk
    keys = [*reversed(cases.index[lead].tolist()), *reversed(cases.index[~lead].tolist())]
    applied = apply(DEFINITIONS[PRIMARY_DEFINITION], built.whole)
    days = built.readings.set_index("film_id")["taken_on"]
    first = today - timedelta(days=LATELY_DAYS)
    for key in keys:
        found = standing(applied, key)
        film = None if found is None else days.loc[[found.film_id]].iloc[0].date()
        if found is not None and film is not None and film >= first:
            yield int(cases["injury_id"].loc[key]), found.level


def _plan(alert: LossAlert, now: datetime, today: date) -> None:
    if alert.surgeon is not None:
        alert_plans.acknowledge(
            alert=alert,
            plan=PLAN,
            due_on=today + timedelta(days=PLAN_DAYS),
            note=NOTE,
            by=alert.surgeon,
            now=now,
            today=today,
            expected_version=alert.version,
        )
