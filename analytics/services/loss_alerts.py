"""Telling surgeons that a reduction may be lost: marked with the reading, weighed after it, once.

A mark is a row in the transaction of the reading, so that no worker's death loses one. Weighing takes
the marks of an injury, judges its case by the site's own definition and removes what it took; marks
that came meanwhile stay for the next run.
"""

import logging
from datetime import date, datetime, timedelta
from typing import Any

from django.db import IntegrityError, OperationalError, transaction
from django.db.models import F

from analytics.answers.case import CaseVerdict, verdict_of
from analytics.answers.case_words import explain
from analytics.endpoints.catalogue import apply
from analytics.models.alerts import (
    AlertLevel,
    AlertState,
    AlertStepKind,
    CaseToWeigh,
    LossAlert,
    LossAlertStep,
)
from analytics.selectors import cases, frames
from analytics.selectors.case_panel import definition_at, mdc_at
from registry.models.people import Person
from registry.services import jobs, records

# Who takes in films of long ago warns nobody of them: they are for the figures. Common practice, no
# source.
NEWS_DAYS = 365
REASON = "weighed after a reading"
STANDING = (AlertState.OPEN, AlertState.PLANNED)
log = logging.getLogger(__name__)


def mark(*, injury_id: int, now: datetime) -> None:
    """Write down, in the transaction of the reason, that a case has to be weighed again."""
    records.put(CaseToWeigh(injury_id=injury_id, marked_at=now))


def mark_patient(*, patient_id: int, now: datetime) -> None:
    """Mark the cases of a patient about which there was ever an alert."""
    _mark_all(LossAlert.objects.filter(procedure__injury__patient_id=patient_id), now)


def mark_all_of(*, patient_id: int, now: datetime) -> None:
    """Mark every case of a patient."""
    rows = [CaseToWeigh(injury_id=one, marked_at=now) for one in cases.injuries_of(patient_id)]
    CaseToWeigh.objects.bulk_create(rows)


def mark_standing(*, now: datetime) -> int:
    """Mark every case about which an alert stands, for what no notice tells of; return how many."""
    return _mark_all(LossAlert.objects.filter(state__in=STANDING), now)


def _mark_all(alerts: Any, now: datetime) -> int:
    ids = set(alerts.order_by().values_list("procedure__injury_id", flat=True))
    marks = [CaseToWeigh(injury_id=one, marked_at=now) for one in sorted(ids)]
    CaseToWeigh.objects.bulk_create(marks, batch_size=1000)
    return len(marks)


def weigh_marked(*, now: datetime, today: date) -> dict[str, int]:
    """Weigh every case that is marked; return what came of it. Doing it twice changes nothing.

    Each in a transaction of its own. One that cannot be weighed keeps its marks, and holds up none.
    """
    counts = dict.fromkeys(("cases weighed", "alerts raised", "alerts taken back", "failed"), 0)
    marked = CaseToWeigh.objects.order_by().values_list("injury_id", flat=True).distinct()
    for injury_id in sorted(marked):
        try:
            found = weigh(injury_id=injury_id, now=now, today=today)
        except OperationalError:
            # The database is gone or locked: no other case would fare better.
            raise
        except Exception:
            # One case whose rows cannot be judged must not keep the alerts of all others back.
            log.exception("the case of injury %s cannot be weighed", injury_id)
            counts["failed"] += 1
            continue
        for name, number in found.items():
            counts[name] += number
        jobs.beat()
    return counts


def weigh(*, injury_id: int, now: datetime, today: date) -> dict[str, int]:
    """Weigh the case of one injury and remove its marks; return counts of what came of it."""
    with records.change(by=None, reason=REASON):
        # Held until the end: whoever weighs the same case waits, and then reads what is true by then.
        marks = list(
            CaseToWeigh.objects.select_for_update()
            .filter(injury_id=injury_id)
            .order_by("id")
            .values_list("pk", flat=True)
        )
        if not marks:
            return {}
        raised, taken_back = _settle(injury_id, now, today)
        CaseToWeigh.objects.filter(pk__in=marks).delete()
    return {"cases weighed": 1, "alerts raised": raised, "alerts taken back": taken_back}


def close_of_patient(*, patient_id: int, because: str, by: Person, now: datetime) -> int:
    """Take back every alert that stands about a patient; return how many."""
    rows = LossAlert.objects.filter(procedure__injury__patient_id=patient_id, state__in=STANDING)
    with records.change(by=by, reason=because):
        return sum(_take_back(alert, because, by, now) for alert in rows)


def _settle(injury_id: int, now: datetime, today: date) -> tuple[int, int]:
    """Bring the alerts of a case to what its films say now; return how many came and went."""
    standing = list(LossAlert.objects.filter(procedure__injury_id=injury_id, state__in=STANDING))
    procedure = cases.index_of(injury_id)
    left = procedure is None or cases.is_left_alone(procedure)
    verdict = None if left else _verdict(procedure, today)
    wanted = _wanted(verdict)
    because = _because(verdict)
    gone = [alert for alert in standing if _name(alert) != wanted]
    taken_back = sum(_take_back(alert, because, None, now) for alert in gone)
    if wanted is None or verdict is None or len(gone) < len(standing):
        return 0, taken_back
    return _raise(procedure, verdict, now, today), taken_back


def _verdict(procedure: Any, today: date) -> CaseVerdict | None:
    definition = definition_at(procedure.site_id)
    data = frames.of_cases([procedure.pk], today)
    if definition is None or procedure.pk not in data.cases.index:
        return None
    return verdict_of(apply(definition, data), data, procedure.pk, mdc_at(procedure.site_id))


def _wanted(verdict: CaseVerdict | None) -> tuple[str, int, str] | None:
    """Return definition, version and level of the alert that a case calls for, None for none."""
    if verdict is None or verdict.standing is None:
        return None
    return verdict.definition.id, verdict.definition.version, verdict.standing.level


def _name(alert: LossAlert) -> tuple[str, int, str]:
    return alert.definition_id, alert.definition_version, alert.level


def _because(verdict: CaseVerdict | None) -> str:
    if verdict is None:
        return (
            "the operation is void, its patient opted out of the registry, or its site calls no "
            "definition its own any more"
        )
    return explain(verdict)


def _raise(procedure: Any, verdict: CaseVerdict, now: datetime, today: date) -> int:
    found = verdict.standing
    film = next((one for one in verdict.films if found and one.film_id == found.film_id), None)
    if found is None or film is None or today - film.taken_on > timedelta(days=NEWS_DAYS):
        return 0
    alert = LossAlert(
        site=procedure.site,
        procedure=procedure,
        surgeon=procedure.surgeon,
        definition_id=verdict.definition.id,
        definition_version=verdict.definition.version,
        level=AlertLevel(found.level),
        film_id=found.film_id,
        measure=found.measure,
        error=found.error,
        threshold=verdict.definition.threshold,
        raised_at=now,
    )
    try:
        with transaction.atomic():
            alert.save(force_insert=True)
    except IntegrityError:
        # Another worker raised it; the constraint lets one stand.
        return 0
    _keep(alert, AlertStepKind.RAISED, explain(verdict), None, now)
    return 1


def _take_back(alert: LossAlert, because: str, by: Person | None, now: datetime) -> int:
    taken = LossAlert.objects.filter(pk=alert.pk, state__in=STANDING).update(
        state=AlertState.TAKEN_BACK,
        closed_at=now,
        closed_because=because[:400],
        version=F("version") + 1,
    )
    if taken:
        _keep(alert, AlertStepKind.TAKEN_BACK, because, by, now)
    return taken


def _keep(
    alert: LossAlert, kind: AlertStepKind, words: str, by: Person | None, now: datetime
) -> None:
    LossAlertStep.objects.create(alert=alert, kind=kind, at=now, by=by, words=words[:500])
