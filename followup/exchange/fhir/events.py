"""Unwanted events, slots, tasks, schedules and films as FHIR has them."""

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from followup.exchange.fhir.code_systems import coded
from registry.exchange.fhir import terms
from registry.exchange.fhir.procedures import construct_of
from registry.rules.dates import Bounds, written
from registry.rules.fhir.elements import (
    TERMINOLOGY,
    Json,
    absent_here,
    coding,
    compact,
    concept,
    reference,
)
from registry.rules.fhir.moments import instant, is_partial, span

OUTCOME = f"{TERMINOLOGY}/adverse-event-outcome"
APPOINTMENT = {
    "booked": "booked",
    "kept": "fulfilled",
    "missed": "noshow",
    "cancelled": "cancelled",
}
ACTIVITY = {
    "planned": "not-started",
    "booked": "scheduled",
    "attended": "completed",
    # Who was missed waits for another slot.
    "missed": "on-hold",
    "lapsed": "stopped",
    "not_needed": "cancelled",
}
OPEN = ("planned", "booked", "missed")


def adverse_event(row: Any, *, by_name: bool) -> Json:
    """Return an unwanted event; R4 gives it no status, so a voided one is not there at all."""
    injury = row.procedure.injury
    extra = [
        _said("relation", "relation", row.relation),
        {"url": terms.extension("grade-scheme"), "valueString": row.grade_scheme},
    ]
    if row.action and by_name:
        extra.append({"url": terms.extension("action"), "valueString": row.action})
    if row.resolved_on:
        resolved = {"url": terms.extension("resolved-on"), "valueDate": row.resolved_on.isoformat()}
        extra.append(resolved)
    return compact(
        {
            **terms.head("AdverseEvent", row.pk, row),
            "extension": extra,
            "actuality": "actual",
            "event": concept(coded("complication-kind", row.kind), text=row.get_kind_display()),
            "subject": reference("Patient", injury.patient.key),
            **_onset(row),
            "detected": row.detected_on.isoformat(),
            "recordedDate": instant(row.recorded_at),
            "seriousness": _grade(row.grade),
            "outcome": concept(coding(OUTCOME, _ending(row))),
            "suspectEntity": [{"instance": one} for one in _suspects(row)],
        }
    )


def appointment(row: Any, *, by_name: bool) -> Json:
    """Return a booked slot in the site's own time."""
    zone = ZoneInfo(row.site.time_zone)
    start = datetime.combine(row.on, row.at, zone)
    end = start.astimezone(ZoneInfo("UTC")) + timedelta(minutes=row.clinic.slot_minutes)
    review = row.review
    status = APPOINTMENT[row.state] if row.voided_at is None else "entered-in-error"
    whom = reference("Patient", review.procedure.injury.patient.key)
    return compact(
        {
            **terms.head("Appointment", row.pk, row),
            "status": status,
            "serviceType": [{"text": row.clinic.name}],
            "description": review.step.name,
            "reasonReference": [reference("Condition", review.procedure.injury_id)],
            "supportingInformation": [reference("CarePlan", review.procedure_id)],
            "start": start.isoformat(),
            "end": end.astimezone(zone).isoformat(),
            "minutesDuration": row.clinic.slot_minutes,
            "created": instant(row.recorded_at),
            "participant": [
                {"actor": whom, "status": "accepted"},
                {"actor": {"display": row.clinic.name}, "status": "accepted"},
            ],
        }
    )


def task(row: Any, *, by_name: bool) -> Json:
    """Return something that is to be done about a patient by a day."""
    status = "ready" if row.done_at is None else "completed"
    done = {"start": instant(row.recorded_at), "end": instant(row.done_at)} if row.done_at else {}
    return compact(
        {
            **terms.head("Task", row.pk, row),
            "status": status if row.voided_at is None else "entered-in-error",
            "statusReason": {"text": row.done_note} if row.done_note and by_name else {},
            "intent": "order",
            "code": concept(coded("task-kind", row.kind)),
            "description": row.words if by_name else "",
            "for": reference("Patient", row.patient.key),
            "executionPeriod": done,
            "authoredOn": instant(row.recorded_at),
            "lastModified": instant(row.changed_at),
            "restriction": {"period": {"end": row.due_on.isoformat()}},
        }
    )


def care_plan(row: Any, *, by_name: bool) -> Json:
    """Return the schedule of an operation: each review with its window and how it stands."""
    reviews = row.planned
    status = "active" if any(one.state in OPEN for one in reviews) else "completed"
    if row.voided_at is not None:
        status = "entered-in-error"
    versions = {one.step.version_id: one.step.version for one in reviews}
    return compact(
        {
            **terms.head("CarePlan", row.pk, row),
            "instantiatesUri": [
                f"{terms.canonical('Protocol', str(one.protocol_id))}|{one.number}"
                for one in versions.values()
            ],
            "status": status,
            "intent": "plan",
            "title": "Reviews after the operation",
            "subject": reference("Patient", row.injury.patient.key),
            "period": _period(reviews),
            "created": instant(row.recorded_at),
            "addresses": [reference("Condition", row.injury_id)],
            "supportingInfo": [reference("Procedure", row.pk)],
            "activity": [_activity(one, by_name=by_name) for one in reviews],
        }
    )


def imaging_study(row: Any, *, by_name: bool) -> Json:
    """Return a film: when, which view, of which side; what was measured on it are Observations."""
    extra = [
        _said("view", "view", row.view),
        _said("posture", "posture", row.posture),
        _said("calibration", "calibration", row.calibration),
        _said("weighted", "yes-no", row.weighted),
        {"url": terms.extension("shows-both-sides"), "valueBoolean": row.shows_both_sides},
    ]
    return compact(
        {
            **terms.head("ImagingStudy", row.pk, row),
            "extension": extra,
            "status": "available" if row.voided_at is None else "entered-in-error",
            "subject": reference("Patient", row.injury.patient.key),
            "started": row.taken_on.isoformat(),
            "reasonReference": [reference("Condition", row.injury_id)],
            "description": f"{row.get_view_display()} film, injured side {row.injury.side}",
        }
    )


def _said(name: str, system: str, value: str) -> Json:
    """Return an extension with a code of ours, or that it is not known."""
    if value == "unknown":
        return {"url": terms.extension(name), **absent_here("unknown")}
    return {"url": terms.extension(name), "valueCoding": coded(system, value)}


def _onset(row: Any) -> Json:
    """Return when it began, where a FHIR date can say it; bounds that it cannot are an extension."""
    if row.onset_earliest is None:
        return {}
    bounds = Bounds(row.onset_earliest, row.onset_latest)
    if is_partial(bounds):
        return {"date": written(bounds)}
    period = span("value", row.onset_earliest, row.onset_latest)
    inner = {"extension": [{"url": terms.extension("onset"), **period}]}
    return {"_date": inner}


def _grade(grade: str) -> Json:
    if grade == "unknown":
        return absent_here("unknown")
    return concept(coded("complication-grade", grade))


def _ending(row: Any) -> str:
    """Return how an event ended; without a day of its end nobody has said that it still goes on."""
    if row.grade == "V":
        return "fatal"
    if row.resolved_on is None:
        return "unknown"
    return "resolvedWithSequelae" if row.grade == "IVb" else "resolved"


def _suspects(row: Any) -> list[Json]:
    if row.relation == "procedure":
        return [reference("Procedure", row.procedure_id)]
    if row.relation != "construct":
        return []
    built = construct_of(row.procedure)
    parts = [reference("Device", part.pk) for part in (built.parts.all() if built else ())]
    return parts or [reference("Procedure", row.procedure_id)]


def _period(reviews: Any) -> Json:
    first, last = (min(one.opens_on for one in reviews), max(one.closes_on for one in reviews))
    return {"start": first.isoformat(), "end": last.isoformat()}


def _activity(review: Any, *, by_name: bool) -> Json:
    ended = review.ended_because
    codes = [coded("review-state", review.state)]
    codes += [coded("ended-because", ended)] if ended else []
    words = review.ended_reason if by_name else ""
    done = {"text": f"attended on {review.attended_on}"} if review.attended_on else {}
    note = {"text": review.next_step_note} if review.next_step_note and by_name else {}
    return compact(
        {
            "progress": [one for one in (done, note) if one],
            "detail": compact(
                {
                    "kind": "Appointment",
                    "code": {"text": review.step.name},
                    "status": ACTIVITY[review.state],
                    "statusReason": concept(*codes, text=words),
                    "scheduledPeriod": {
                        "start": review.opens_on.isoformat(),
                        "end": review.closes_on.isoformat(),
                    },
                    "description": f"{review.step.code}: due {review.due_on.isoformat()}",
                }
            ),
        }
    )
