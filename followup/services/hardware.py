"""Raising the question of removal, recording the decision, and settling it by the operation."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from followup.models.hardware import HardwareDecision, HardwareState, RaisedBecause
from followup.rules import prompts
from registry.errors import BadInput
from registry.models.patients import PatientStatus
from registry.models.people import Person
from registry.models.procedures import Procedure, ProcedureKind
from registry.services import records

IMPLANTING = (ProcedureKind.FIXATION, ProcedureKind.REVISION_FIXATION)


def raise_question(
    *, procedure: Procedure, because: str, by: Person, now: datetime, on: date, reason: str = ""
) -> HardwareDecision | None:
    """Raise the question for one operation; None when it is open already or the hardware is out."""
    if is_out(procedure) or open_question(procedure) is not None:
        return None
    return records.create(
        HardwareDecision(
            procedure=procedure,
            site=procedure.site,
            raised_because=because,
            raised_on=on,
            reason=reason[:300],
        ),
        by=by,
        now=now,
    )


def note_complaint(
    *, procedure: Procedure, complaint: str, by: Person, now: datetime, on: date
) -> HardwareDecision:
    """Raise the question for hardware that hurts; one that is open hears of it, and rests no more.

    Raises BadInput when the hardware is out.
    """
    question = open_question(procedure)
    if question is None:
        question = raise_question(
            procedure=procedure,
            because=RaisedBecause.SYMPTOMS,
            by=by,
            now=now,
            on=on,
            reason=complaint,
        )
        if question is None:
            told = "This hardware is out already; record what hurts as a complication instead."
            raise BadInput({"hardware_symptoms": told})
        return question
    values: dict[str, Any] = {"reason": f"{complaint}; {question.reason}".strip("; ")[:300]}
    if question.state == HardwareState.DEFERRED:
        raised = prompts.move(question.state, HardwareState.RAISED)
        values |= {"state": raised, "deferred_until": None, "decided_on": None}
    return records.save(
        question, values, by=by, now=now, expected_version=question.version, reason=complaint
    )


def open_question(procedure: Procedure) -> HardwareDecision | None:
    """Return the open question about an operation's hardware, if there is one."""
    return HardwareDecision.objects.filter(
        procedure=procedure, state__in=sorted(prompts.OPEN)
    ).first()


def raise_planned_removals(*, by: Person, now: datetime, today: date) -> int:
    """Raise the question for every construct whose removal window has opened; return how many.

    Asking twice raises once. A question that was answered 'declined' is not raised again.
    """
    raised = 0
    rows = (
        Procedure.objects.filter(
            kind__in=IMPLANTING,
            construct__construct_type__planned_removal=True,
            injury__patient__status=PatientStatus.ACTIVE,
            hardware_decisions__isnull=True,
        )
        .select_related("construct__construct_type", "site")
        .iterator(chunk_size=500)
    )
    for procedure in rows:
        weeks = procedure.construct.construct_type.removal_opens_weeks
        if prompts.planned_removal_opens(procedure.performed_on, weeks) <= today:
            question = raise_question(
                procedure=procedure,
                because=RaisedBecause.PLANNED_REMOVAL,
                by=by,
                now=now,
                on=today,
            )
            raised += question is not None
    return raised


def decide(
    *,
    decision: HardwareDecision,
    state: str,
    values: Mapping[str, Any],
    expected_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> HardwareDecision:
    """Record discussed, planned, deferred, declined, or raised again after either of the last two.

    A decision without words keeps those that the question has. Raises IllegalTransition,
    StaleVersion, and BadInput when deferring lacks a day to come, a wish is for a day that is over,
    or a refusal lacks its reason. 'Done' comes only from recording the removal.
    """
    if state == HardwareState.DONE:
        raise BadInput({"state": "Record the removal itself; it closes this question."})
    given = str(values.get("reason", ""))[:300]
    wish: date | None = values.get("wish_on") if state == HardwareState.PLANNED else None
    wanted = {
        "state": prompts.move(decision.state, state),
        "decided_on": None if state == HardwareState.RAISED else today,
        "deferred_until": values.get("deferred_until") if state == HardwareState.DEFERRED else None,
        "wish_on": wish,
        "reason": given or decision.reason,
    }
    if state == HardwareState.DEFERRED:
        until: date | None = values.get("deferred_until")
        if until is None or until <= today:
            raise BadInput({"deferred_until": "Give a day to come on which it is asked again."})
    if wish is not None and wish < today:
        raise BadInput({"wish_on": f"{wish} is in the past; give the day on which it shall be."})
    if state in (HardwareState.DEFERRED, HardwareState.DECLINED) and not given:
        raise BadInput({"reason": "Say why; it is shown when the question comes back."})
    return records.save(
        decision,
        wanted,
        by=by,
        now=now,
        expected_version=expected_version,
        reason=given,
    )


def settle_by_procedure(*, procedure: Procedure, by: Person, now: datetime) -> None:
    """Close the open question with the removal, or the revision, that answered it."""
    if procedure.kind not in (ProcedureKind.IMPLANT_REMOVAL, ProcedureKind.REVISION_FIXATION):
        return
    if procedure.revises is None:
        return
    question = open_question(procedure.revises)
    if question is None:
        return
    records.save(
        question,
        {
            "state": prompts.move(question.state, HardwareState.DONE),
            "decided_on": procedure.performed_on,
            "removal": procedure,
            "deferred_until": None,
        },
        by=by,
        now=now,
        expected_version=question.version,
        reason="removed",
    )


def unsettle_by_void(*, procedure: Procedure, by: Person, now: datetime) -> None:
    """Ask again what a voided removal, or revision, had answered: the hardware is still in."""
    for question in HardwareDecision.objects.filter(removal=procedure):
        records.save(
            question,
            {"state": prompts.unsettle(question.state), "decided_on": None, "removal": None},
            by=by,
            now=now,
            expected_version=question.version,
            reason="the removal was voided",
        )


def is_out(procedure: Procedure) -> bool:
    """Say whether what an operation implanted was taken out, or replaced, by a later one."""
    return Procedure.objects.filter(
        revises=procedure,
        kind__in=[ProcedureKind.IMPLANT_REMOVAL, ProcedureKind.REVISION_FIXATION],
    ).exists()
