"""Applying the planner: what should exist against what does, in one transaction."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet
from django.utils import timezone

from followup.models.calendars import Clinic, ClosedDay
from followup.models.protocols import (
    ProtocolPurpose,
    ProtocolStep,
    ProtocolVersion,
    VersionMove,
)
from followup.models.reviews import Appointment, AppointmentState, Review, ReviewState
from followup.rules import planner, states
from followup.rules.windows import Window
from followup.selectors.protocols import protocols_for, version_in_force
from followup.services import messages
from followup.services.protocols import plan_of
from registry.models.constructs import Construct
from registry.models.patients import PatientStatus
from registry.models.people import Person
from registry.models.procedures import Procedure, ProcedureKind
from registry.selectors.chunks import in_chunks
from registry.services import gathering, jobs, records

PURPOSE = {
    ProcedureKind.FIXATION: ProtocolPurpose.FIXATION,
    ProcedureKind.REVISION_FIXATION: ProtocolPurpose.FIXATION,
    ProcedureKind.IMPLANT_REMOVAL: ProtocolPurpose.REMOVAL,
}
BECAUSE = {
    PatientStatus.DIED: "death",
    PatientStatus.WITHDRAWN: "withdrawal",
    PatientStatus.MOVED: "moved",
}


def plan_reviews(
    *, procedure: Procedure, by: Person, now: datetime, today: date
) -> planner.Difference:
    """Make the reviews of one operation what they should be; doing it twice changes nothing.

    Reviews stay pinned to the protocol version under which they were first planned, until they are
    moved to another one deliberately.
    """
    existing = records.under(Review, "step__version", procedure=procedure)
    version = pinned_version(procedure, existing)
    if version is None or PURPOSE.get(ProcedureKind(procedure.kind)) is None:
        return planner.Difference()
    steps = {step.code: step for step in version.steps.all()}
    site_id = procedure.site_id
    calendar = gathering.once(("calendar", site_id), lambda: calendar_of(site_id))
    difference = difference_under(procedure, existing, steps, calendar, today)
    if not difference.is_empty:
        with records.change(by=by, reason="planning"):
            _apply(procedure, difference, steps, existing, by, now)
    return difference


def pinned_version(procedure: Procedure, existing: Sequence[Review]) -> ProtocolVersion | None:
    """Return the version that an operation follows: moved to, first planned under, or in force."""
    moves = records.under(VersionMove, procedure=procedure)
    if moves and existing:
        moved_to: ProtocolVersion = moves[-1].to_version
        return moved_to
    return existing[0].step.version if existing else _version(procedure)


def difference_under(
    procedure: Procedure,
    existing: Sequence[Review],
    steps: Mapping[str, ProtocolStep],
    calendar: planner.Calendar,
    today: date,
) -> planner.Difference:
    """Return what the steps of a version would make of an operation's reviews; nothing is saved."""
    return planner.plan(
        procedure.performed_on,
        [plan_of(step) for step in steps.values()],
        calendar,
        [_as_it_stands(review, steps) for review in existing],
        list(_endings(procedure)),
        today,
    )


def plan_injury(*, procedure: Procedure, by: Person, now: datetime, today: date) -> None:
    """Plan every operation of the injury that a new, corrected or ended one may touch."""
    way = ("injury__patient", "site", "construct")
    for one in records.under(Procedure, *way, injury=procedure.injury):
        if one.kind in PURPOSE:
            plan_reviews(procedure=one, by=by, now=now, today=today)


def plan_operations_of(
    *, injury_id: int, by: Person, now: datetime, today: date, leave_out: Collection[int] = ()
) -> None:
    """Plan every operation of an injury, but for those whose keys are left out."""
    related = Procedure.objects.filter(injury_id=injury_id, kind__in=list(PURPOSE))
    related = related.exclude(pk__in=leave_out)
    for one in related.select_related("injury__patient", "site", "construct"):
        plan_reviews(procedure=one, by=by, now=now, today=today)


def plan_after_void(*, procedure: Procedure, by: Person, now: datetime) -> None:
    """Plan again what stands on the injury of a voided operation: what it ended is open again."""
    zone = ZoneInfo(procedure.site.time_zone)
    plan_injury(procedure=procedure, by=by, now=now, today=timezone.localtime(now, zone).date())


def plan_for_construct(*, procedure: Procedure, by: Person, now: datetime, today: date) -> None:
    """Plan afresh when the construct becomes known, or another, and its own protocol applies.

    Reviews that were booked or have happened keep the whole schedule under its first protocol.
    """
    version = _version(procedure)
    reviews = Review.objects.filter(procedure=procedure)
    existing = list(reviews.select_related("step__version").order_by("id"))
    pinned = pinned_version(procedure, existing) if existing else None
    untouched = not reviews.exclude(state=ReviewState.PLANNED).exists()
    with records.change(by=by, reason="the protocol of its construct"):
        if (
            pinned is not None
            and version is not None
            and untouched
            and pinned.protocol_id != version.protocol_id
        ):
            why = "the protocol of its construct"
            moves = VersionMove.objects.filter(procedure=procedure)
            for rows in (reviews, moves):
                records.void_all(rows.order_by(), by=by, now=now, reason=why)
        plan_injury(procedure=procedure, by=by, now=now, today=today)


def move_proposals(
    *,
    site_id: int,
    by: Person,
    now: datetime,
    today: date,
    only: Collection[date] = (),
    opened: Collection[date] = (),
) -> int:
    """Move planned reviews off days on which the site holds no clinic; return how many moved.

    With `only`, those proposed on these days, otherwise all that are still to come. With `opened`,
    days on which clinic is held again, those as well for which one of them is nearer to the due day.
    A review whose window holds no clinic day stays where it is.
    """
    ahead = Review.objects.filter(
        site_id=site_id, state=ReviewState.PLANNED, proposed_on__gte=today
    )
    calendar = calendar_of(site_id)
    here = ahead.filter(proposed_on__in=only) if only else ahead
    days = here.order_by().values_list("proposed_on", flat=True).distinct()
    off = [day for day in days if not calendar.is_clinic_day(day)]
    wanted = Q(pk__in=here.filter(proposed_on__in=off).values("procedure_id"))
    if opened:
        wanted |= Q(pk__in=_with_a_nearer_day(ahead, opened, calendar))
    procedures = Procedure.objects.filter(wanted)
    moved = 0
    for chunk in in_chunks(procedures.select_related("injury__patient", "site", "construct")):
        for procedure in chunk:
            done = plan_reviews(procedure=procedure, by=by, now=now, today=today)
            moved += len(done.move)
        jobs.beat(len(chunk))
    return moved


def _with_a_nearer_day(
    ahead: QuerySet[Review], opened: Collection[date], calendar: planner.Calendar
) -> set[int]:
    """Return the operations of which a planned review would be proposed on another day by now."""
    reached = ahead.filter(
        day_chosen=False, opens_on__lte=max(opened), closes_on__gte=min(opened)
    ).order_by()
    names = ("procedure_id", "opens_on", "due_on", "closes_on", "proposed_on")
    return {
        key
        for key, opens, due, closes, proposed in reached.values_list(*names).iterator()
        if planner.propose_day(Window(opens, due, closes), calendar) != proposed
    }


def calendar_of(site_id: int) -> planner.Calendar:
    """Return the site's clinic weekdays and closed days as plain values."""
    weekdays = Clinic.objects.filter(site_id=site_id, is_active=True).values_list(
        "weekday", flat=True
    )
    closed = ClosedDay.objects.filter(site_id=site_id).values_list("on", flat=True)
    return planner.Calendar(frozenset(weekdays), frozenset(closed))


def _version(procedure: Procedure) -> ProtocolVersion | None:
    purpose = PURPOSE.get(ProcedureKind(procedure.kind))
    if purpose is None:
        return None
    construct = _construct_of(procedure)
    wanted: dict[str, Any] = {
        "site_id": procedure.site_id,
        "construct_type_id": construct.construct_type_id if construct else None,
        "purpose": purpose,
    }
    key = ("protocols", *wanted.values())
    protocols = gathering.once(key, lambda: protocols_for(**wanted))
    return version_in_force(protocols, procedure.performed_on)


def _construct_of(procedure: Procedure) -> Construct | None:
    if gathering.is_new(procedure):
        return next(iter(records.under(Construct, procedure=procedure)), None)
    return getattr(procedure, "construct", None)


def _endings(procedure: Procedure) -> Iterable[planner.Ending]:
    injury = procedure.injury
    patient = injury.patient
    if patient.status in BECAUSE and patient.status_on is not None:
        yield planner.Ending(BECAUSE[PatientStatus(patient.status)], patient.status_on)
    # A removal adds its own short schedule and closes nothing: outcomes are still wanted.
    new = gathering.is_new(injury)
    for one in records.under(Procedure, injury=injury) if new else injury.procedures.all():
        is_later = (one.performed_on, one.pk) > (procedure.performed_on, procedure.pk)
        if is_later and one.kind == ProcedureKind.REVISION_FIXATION:
            yield planner.Ending("revision", one.performed_on)


def _as_it_stands(review: Review, steps: Mapping[str, ProtocolStep]) -> planner.ExistingReview:
    code = review.step.code
    return planner.ExistingReview(
        step_code=code,
        window=Window(review.opens_on, review.due_on, review.closes_on),
        proposed_on=review.proposed_on,
        state=review.state,
        ended_because=review.ended_because,
        day_chosen=review.day_chosen,
        follows=code not in steps or steps[code].pk == review.step_id,
    )


def _apply(
    procedure: Procedure,
    difference: planner.Difference,
    steps: dict[str, ProtocolStep],
    existing: list[Review],
    by: Person,
    now: datetime,
) -> None:
    there = {review.step.code: review for review in existing}
    for wanted in difference.create:
        records.create(
            Review(
                procedure=procedure,
                site=procedure.site,
                step=steps[wanted.step_code],
                **dates_of(wanted),
            ),
            by=by,
            now=now,
        )
    for wanted in difference.move:
        review = there[wanted.step_code]
        records.save(
            review,
            _values_of(wanted, steps),
            by=by,
            now=now,
            expected_version=review.version,
            reason=_why_moved(review, wanted, steps),
        )
    for wanted in difference.reopen:
        review = there[wanted.step_code]
        records.save(
            review,
            {**_values_of(wanted, steps), **_reopened(review)},
            by=by,
            now=now,
            expected_version=review.version,
            reason="what had ended its schedule no longer stands",
        )
    for code, because in difference.close.items():
        close_review(review=there[code], because=because, by=by, now=now)


def close_review(*, review: Review, because: str, by: Person, now: datetime) -> Review:
    """Close an open review with the reason why its schedule is over, and free its slot."""
    with records.change(by=by):
        cancel_slots(review=review, by=by, now=now)
        return records.save(
            review,
            {"state": states.close(review.state), "ended_because": because},
            by=by,
            now=now,
            expected_version=review.version,
            reason=because,
        )


def cancel_slots(*, review: Review, by: Person, now: datetime) -> None:
    """Cancel the booked slot of a review; a patient who was told of it is told."""
    for slot in booked_slots(review):
        records.save(
            slot,
            {"state": AppointmentState.CANCELLED},
            by=by,
            now=now,
            expected_version=slot.version,
        )
        messages.call_off(appointment=slot, now=now)


def booked_slots(review: Review) -> list[Appointment]:
    """Return the slots of a review that are booked, over or to come."""
    slots = records.under(Appointment, review=review)
    return [slot for slot in slots if slot.state == AppointmentState.BOOKED]


def _reopened(review: Review) -> dict[str, str]:
    return {"state": states.reopen(review.state), "ended_because": "", "ended_reason": ""}


def _values_of(wanted: planner.PlannedReview, steps: Mapping[str, ProtocolStep]) -> dict[str, Any]:
    """Return the dates of a review with its step; a day that a person chose is given up."""
    return {"step": steps[wanted.step_code], "day_chosen": False, **dates_of(wanted)}


def _why_moved(
    review: Review, wanted: planner.PlannedReview, steps: Mapping[str, ProtocolStep]
) -> str:
    if review.step_id != steps[wanted.step_code].pk:
        return "moved to another version of the protocol"
    if review.due_on == wanted.window.due_on:
        return "the site's clinic days changed"
    return "the operation date was corrected"


def dates_of(wanted: planner.PlannedReview) -> dict[str, date]:
    """Return a planned review's window and proposed day by the names of the row's fields."""
    return {
        "opens_on": wanted.window.opens_on,
        "due_on": wanted.window.due_on,
        "closes_on": wanted.window.closes_on,
        "proposed_on": wanted.proposed_on,
    }
