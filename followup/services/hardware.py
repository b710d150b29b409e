"""Raising the question of removal, recording the decision, and settling it by the operation.

Every step is kept as a row of its own (`HardwareStep`), beside the state that the question has now.
"""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from followup.models.hardware import (
    HardwareDecision,
    HardwareState,
    HardwareStep,
    RaisedBecause,
    StepKind,
    SymptomSource,
)
from followup.rules import prompts
from followup.services import removal_tasks
from registry.errors import BadInput
from registry.models.patients import PatientStatus
from registry.models.people import Person
from registry.models.procedures import Procedure, ProcedureKind
from registry.selectors.chunks import in_chunks
from registry.services import jobs, records

IMPLANTING = (ProcedureKind.FIXATION, ProcedureKind.REVISION_FIXATION)
TAKING_OUT = (ProcedureKind.IMPLANT_REMOVAL, ProcedureKind.REVISION_FIXATION)
STEP_OF = {
    HardwareState.RAISED: StepKind.ASKED_AGAIN,
    HardwareState.DISCUSSED: StepKind.DISCUSSED,
    HardwareState.PLANNED: StepKind.PLANNED,
    HardwareState.DEFERRED: StepKind.DEFERRED,
    HardwareState.DECLINED: StepKind.DECLINED,
}


def raise_question(
    *,
    procedure: Procedure,
    because: str,
    by: Person,
    now: datetime,
    on: date,
    reason: str = "",
    source: str = "",
    fact: str = "",
) -> HardwareDecision | None:
    """Raise the question for one operation; None when it is open already or the hardware is out."""
    if procedure.kind not in IMPLANTING or is_out(procedure) or open_question(procedure):
        return None
    question = HardwareDecision(
        procedure=procedure,
        site=procedure.site,
        raised_because=because,
        raised_on=on,
        waiting_since=on,
        reason=reason[:300],
    )
    try:
        with records.change(by=by):
            records.create(question, by=by, now=now)
            told = {"source": source, "fact": fact, "words": reason}
            _keep_step(question, StepKind.RAISED, on=on, told=told, by=by, now=now)
    except BadInput:
        # Somebody else raised it in between; the constraint lets one stand.
        if open_question(procedure) is None:
            raise
        return None
    return question


def note_symptoms(
    *,
    procedure: Procedure,
    source: str,
    words: str,
    by: Person,
    now: datetime,
    on: date,
    fact: str = "",
) -> HardwareDecision | None:
    """Raise the question for hardware that makes trouble, or add what was found to the open one.

    `source` is a `SymptomSource`; `fact` names the finding, by default its source and words. A
    finding that any question about this operation has heard of changes nothing, also after it was
    declined; a new one raises it, and wakes what rests. Returns the open question, None where there
    is none: the hardware is out, or the finding was answered already.
    """
    known = fact or prompts.fact_of(source, words)
    question = open_question(procedure)
    if HardwareStep.objects.filter(decision__procedure=procedure, fact=known).exists():
        return question
    if question is None:
        cause = (
            RaisedBecause.COMPLICATION
            if source == SymptomSource.COMPLICATION
            else RaisedBecause.SYMPTOMS
        )
        at: dict[str, Any] = {"by": by, "now": now, "on": on}
        raised = raise_question(
            procedure=procedure, because=cause, reason=words, source=source, fact=known, **at
        )
        question = open_question(procedure)
        if raised is not None or question is None:
            return raised
    return _add_fact(question, source=source, words=words, fact=known, by=by, now=now, on=on)


def note_complaint(
    *, procedure: Procedure, complaint: str, by: Person, now: datetime, on: date
) -> HardwareDecision:
    """Raise the question for what a clinician was told; said again it is heard again.

    Raises BadInput when the hardware is out.
    """
    said = HardwareStep.objects.filter(
        decision__procedure=procedure, source=SymptomSource.CLINICIAN
    ).count()
    question = note_symptoms(
        procedure=procedure,
        source=SymptomSource.CLINICIAN,
        words=complaint,
        fact=f"{SymptomSource.CLINICIAN}:{said + 1}",
        by=by,
        now=now,
        on=on,
    )
    if question is None:
        told = "This hardware is out already; record what hurts as a complication instead."
        raise BadInput({"hardware_symptoms": told})
    return question


def open_question(procedure: Procedure) -> HardwareDecision | None:
    """Return the open question about an operation's hardware, if there is one."""
    return HardwareDecision.objects.filter(
        procedure=procedure, state__in=sorted(prompts.OPEN)
    ).first()


def raise_planned_removals(*, by: Person, now: datetime, today: date) -> int:
    """Raise the question for every construct whose removal window has opened; return how many.

    Asking twice raises once. It is not asked while a question is open, nor again once it was asked
    for this cause or decided in the window; a refusal from before the window is no answer to it.
    """
    questions = HardwareDecision.objects.filter(procedure=OuterRef("pk"))
    heard = Q(state__in=sorted(prompts.OPEN)) | Q(raised_because=RaisedBecause.PLANNED_REMOVAL)
    decided = questions.filter(decided_on__isnull=False).order_by("-decided_on")
    rows = (
        Procedure.objects.filter(
            ~Exists(questions.filter(heard)),
            ~Exists(_taken_out(OuterRef("pk"))),
            kind__in=IMPLANTING,
            construct__construct_type__planned_removal=True,
            injury__patient__status=PatientStatus.ACTIVE,
        )
        .annotate(decided_on=Subquery(decided.values("decided_on")[:1]))
        .select_related("construct__construct_type", "site")
    )
    raised = 0
    for chunk in in_chunks(rows):
        for procedure in chunk:
            weeks = procedure.construct.construct_type.removal_opens_weeks
            opens = prompts.planned_removal_opens(procedure.performed_on, weeks)
            answered = procedure.decided_on is not None and procedure.decided_on >= opens
            if opens > today or answered:
                continue
            at: dict[str, Any] = {"by": by, "now": now, "on": today}
            because = RaisedBecause.PLANNED_REMOVAL
            raised += raise_question(procedure=procedure, because=because, **at) is not None
        jobs.beat(len(chunk))
    return raised


def bring_back_deferred(*, by: Person, now: datetime, today: date) -> int:
    """Ask again what was deferred until a day that has come; return how many. Twice equals once."""
    rows = HardwareDecision.objects.filter(
        state=HardwareState.DEFERRED,
        deferred_until__lte=today,
        procedure__injury__patient__status=PatientStatus.ACTIVE,
    )
    back = 0
    for pk in list(rows.values_list("pk", flat=True)):
        with records.change(by=by):
            # Locked and asked again: somebody may decide while the night's work runs.
            question = rows.select_for_update().filter(pk=pk).first()
            if question is None:
                continue
            until = question.deferred_until
            values = {**_raised_again(question), "waiting_since": until}
            _change(question, values, reason=f"deferred until {until}", by=by, now=now)
            told = {"words": f"it was deferred until {until:%d %b %Y}"}
            _keep_step(question, StepKind.CAME_BACK, on=today, told=told, by=by, now=now)
        back += 1
    return back


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
    StaleVersion, and BadInput when deferring lacks a day to come, a plan its wished day or has one
    that is over, or a refusal lacks its reason. 'Done' comes only from recording the removal.
    """
    if state == HardwareState.DONE:
        raise BadInput({"state": "Record the removal itself; it closes this question."})
    given = str(values.get("reason", ""))[:300]
    planned = state == HardwareState.PLANNED
    wish: date | None = values.get("wish_on", decision.wish_on) if planned else None
    wanted = {
        "state": prompts.move(decision.state, state),
        "decided_on": None if state == HardwareState.RAISED else today,
        "waiting_since": today,
        "deferred_until": values.get("deferred_until") if state == HardwareState.DEFERRED else None,
        "wish_on": wish,
        "reason": given or decision.reason,
    }
    if state in prompts.ANSWERS and decision.first_decided_on is None:
        wanted["first_decided_on"] = today
    _refuse_incomplete(state, values, wish, given, today)
    with records.change(by=by, reason=given):
        saved = records.save(
            decision, wanted, by=by, now=now, expected_version=expected_version, reason=given
        )
        told = {"words": given}
        _keep_step(saved, STEP_OF[HardwareState(state)], on=today, told=told, by=by, now=now)
        removal_tasks.close_for(decision=saved, by=by, now=now)
    return saved


def settle_by_procedure(*, procedure: Procedure, by: Person, now: datetime) -> None:
    """Close the open question, or the last refusal, with the removal or revision that answered it."""
    if procedure.kind not in TAKING_OUT:
        return
    if procedure.revises is None:
        return
    question = open_question(procedure.revises) or _last_refusal(procedure.revises)
    if question is None:
        return
    on = procedure.performed_on
    values = {
        "state": prompts.move(question.state, HardwareState.DONE),
        "decided_on": on,
        "first_decided_on": question.first_decided_on or on,
        "removal": procedure,
        "deferred_until": None,
    }
    with records.change(by=by):
        _change(question, values, reason="removed", by=by, now=now)
        told = {"words": f"by the {procedure.get_kind_display().lower()} of {on:%d %b %Y}"}
        _keep_step(question, StepKind.DONE, on=on, told=told, by=by, now=now)
        removal_tasks.close_for(decision=question, by=by, now=now)


def unsettle_by_void(*, procedure: Procedure, by: Person, now: datetime) -> None:
    """Ask again what a voided removal, or revision, had answered: the hardware is still in."""
    answered = HardwareDecision.objects.filter(removal=procedure)
    unsettle(questions=answered, reason="the removal was voided", by=by, now=now)


def unsettle(
    *, questions: Iterable[HardwareDecision], reason: str, by: Person, now: datetime
) -> None:
    """Ask again what an operation had answered that was none of this hardware, and say why."""
    for question in questions:
        answered = HardwareStep.objects.filter(
            decision=question, kind__in=[StepKind.PLANNED, StepKind.DECLINED]
        )
        # What a refusal had put to rest begins to wait only now.
        before = question.steps.exclude(kind=StepKind.DONE).values_list("kind", flat=True)
        refused = before.last() == StepKind.DECLINED
        values = {
            "state": prompts.unsettle(question.state),
            "waiting_since": now.date() if refused else question.waiting_since,
            "decided_on": None,
            "first_decided_on": answered.values_list("on", flat=True).first(),
            "removal": None,
        }
        with records.change(by=by, reason=reason):
            _change(question, values, reason=reason, by=by, now=now)
            told = {"words": reason}
            _keep_step(question, StepKind.ASKED_AGAIN, on=now.date(), told=told, by=by, now=now)


def carrying(injury_id: int, on: date) -> Procedure | None:
    """Return the operation whose hardware was in a shoulder on a day, if any."""
    operations = Procedure.objects.filter(injury_id=injury_id, performed_on__lte=on)
    fixed = operations.filter(kind__in=IMPLANTING).order_by("performed_on", "id").last()
    return None if fixed is None or is_out(fixed) else fixed


def _add_fact(
    question: HardwareDecision,
    *,
    source: str,
    words: str,
    fact: str,
    by: Person,
    now: datetime,
    on: date,
) -> HardwareDecision:
    """Add a finding to an open question; one that rests until a day is asked at once."""
    with records.change(by=by, reason=words):
        # Locked, so that a decision taken at the same moment is not overwritten.
        question = HardwareDecision.objects.select_for_update().get(pk=question.pk)
        values: dict[str, Any] = {}
        if words not in question.reason.split("; "):
            values["reason"] = f"{words}; {question.reason}".strip("; ")[:300]
        if question.state == HardwareState.DEFERRED:
            values |= {**_raised_again(question), "waiting_since": on}
        _change(question, values, reason=words, by=by, now=now)
        told = {"source": source, "fact": fact, "words": words}
        _keep_step(question, StepKind.TOLD, on=on, told=told, by=by, now=now)
    return question


def _raised_again(question: HardwareDecision) -> dict[str, Any]:
    state = prompts.move(question.state, HardwareState.RAISED)
    return {"state": state, "deferred_until": None, "decided_on": None}


def _change(
    question: HardwareDecision, values: Mapping[str, Any], *, reason: str, by: Person, now: datetime
) -> None:
    records.save(question, values, by=by, now=now, expected_version=question.version, reason=reason)


def _keep_step(
    question: HardwareDecision,
    kind: str,
    *,
    on: date,
    told: Mapping[str, str],
    by: Person,
    now: datetime,
) -> None:
    step = HardwareStep(
        decision=question,
        site=question.site,
        kind=kind,
        on=on,
        wish_on=question.wish_on if kind == StepKind.PLANNED else None,
        deferred_until=question.deferred_until if kind == StepKind.DEFERRED else None,
        source=told.get("source", ""),
        fact=told.get("fact", ""),
        words=told.get("words", "")[:300],
    )
    records.create(step, by=by, now=now)


def _refuse_incomplete(
    state: str, values: Mapping[str, Any], wish: date | None, given: str, today: date
) -> None:
    until: date | None = values.get("deferred_until")
    if state == HardwareState.DEFERRED and (until is None or until <= today):
        raise BadInput({"deferred_until": "Give a day to come on which it is asked again."})
    if state == HardwareState.PLANNED and wish is None:
        raise BadInput({"wish_on": "Give the day on which the hardware shall come out."})
    if wish is not None and wish < today:
        raise BadInput({"wish_on": f"{wish} is in the past; give the day on which it shall be."})
    if state in (HardwareState.DEFERRED, HardwareState.DECLINED) and not given:
        raise BadInput({"reason": "Say why; it is shown when the question comes back."})


def is_out(procedure: Procedure) -> bool:
    """Say whether what an operation implanted was taken out, or replaced, by a later one."""
    return _taken_out(procedure).exists()


def _taken_out(procedure: Procedure | OuterRef) -> QuerySet[Any]:
    """Return the removals and revisions of what an operation implanted."""
    out: QuerySet[Any] = Procedure.objects.filter(revises=procedure, kind__in=TAKING_OUT)
    return out


def _last_refusal(procedure: Procedure) -> HardwareDecision | None:
    """Return the question that was declined last, if no removal has answered any yet."""
    questions = HardwareDecision.objects.filter(procedure=procedure)
    if questions.filter(state=HardwareState.DONE).exists():
        return None
    return questions.filter(state=HardwareState.DECLINED).order_by("decided_on", "id").last()
