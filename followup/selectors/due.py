"""The Due list: filtered, ordered and paged in the database, with the reason for each place."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Case, Exists, F, IntegerField, OuterRef, Q, QuerySet, Value, When

from followup.models.films import Film
from followup.models.hardware import HardwareDecision, HardwareState
from followup.models.reviews import Review, ReviewState
from followup.rules.urgency import EARLY_STEPS_CLOSE_WITHIN_DAYS, DueFacts, Tier, reason
from followup.rules.windows import ABOUT_TO_CLOSE_DAYS, Timing, Window, timing
from followup.selectors.visible import visible
from registry.models.constructs import ConstructDeparture, ConstructType
from registry.models.patients import PatientStatus
from registry.models.procedures import Procedure, ProcedureKind
from registry.selectors.visible import Viewer

WAITING = (ReviewState.PLANNED, ReviewState.BOOKED, ReviewState.MISSED)
LOOK_AHEAD_DAYS = 14


@dataclass(frozen=True)
class DueFilter:
    """What the coordinator asked to see."""

    show: str = "all"
    week_of: date | None = None
    clinic_id: int | None = None
    surgeon_id: int | None = None


@dataclass(frozen=True)
class DueRow:
    """One line of the list, with its reason in words."""

    review: Review
    name: str
    reason: str
    act_now: bool
    timing: Timing
    slot: str
    slot_has_come: bool
    attempts: int


SHOWS = {
    "all": "Everything due",
    "in_window": "In window",
    "late": "Late",
    "closing": "About to close",
    "unbooked": "Not booked",
    "missed": "Missed",
}


def due_reviews(user: Viewer, today: date, wanted: DueFilter) -> "QuerySet[Any]":
    """Return the waiting reviews that a person may see, most urgent first."""
    rows = visible(user, Review, "see_due").filter(
        state__in=WAITING,
        procedure__voided_at__isnull=True,
        procedure__injury__patient__status=PatientStatus.ACTIVE,
        procedure__injury__patient__merged_into__isnull=True,
    )
    rows = _placed(rows, today)
    rows = rows.filter(_in_sight(today, wanted))
    return _filtered(rows, today, wanted).order_by("tier", "due_on", "id")


def with_details(rows: "QuerySet[Any]") -> "QuerySet[Any]":
    """Fetch with a page of reviews what its lines show, in a fixed number of queries."""
    return rows.select_related(
        "step", "procedure__injury__patient__identity", "procedure__construct__construct_type"
    ).prefetch_related("appointments__clinic", "contact_attempts")


def lines(reviews: list[Review], today: date) -> list[DueRow]:
    """Return the lines of one page."""
    return [_line(review, today) for review in reviews]


def _placed(rows: "QuerySet[Any]", today: date) -> "QuerySet[Any]":
    """Give each review its tier: the table of followup/rules/urgency.py as a CASE expression."""
    inside = Film.objects.filter(
        injury=OuterRef("procedure__injury"),
        taken_on__gte=OuterRef("opens_on"),
        taken_on__lte=OuterRef("closes_on"),
    )
    departed = ConstructDeparture.objects.filter(construct__procedure=OuterRef("procedure"))
    closing = Q(closes_on__lte=today + timedelta(days=ABOUT_TO_CLOSE_DAYS), opens_on__lte=today)
    early = Q(
        due_on__lte=F("procedure__performed_on") + timedelta(days=EARLY_STEPS_CLOSE_WITHIN_DAYS),
        opens_on__lte=today,
    )
    placed: QuerySet[Any] = rows.annotate(
        has_film=Exists(inside), has_departure=Exists(departed), removal_overdue=_overdue(today)
    ).annotate(
        tier=Case(
            When(removal_overdue=True, then=Value(int(Tier.REMOVAL_OVERDUE))),
            When(
                closing & Q(has_film=False) & ~Q(step__film_views=[]),
                then=Value(int(Tier.FILM_WINDOW_CLOSING)),
            ),
            When(early & Q(has_departure=True), then=Value(int(Tier.EARLY_AFTER_DEPARTURE))),
            When(due_on__lt=today, then=Value(int(Tier.LATE))),
            When(opens_on__lte=today, then=Value(int(Tier.IN_WINDOW))),
            default=Value(int(Tier.LATER)),
            output_field=IntegerField(),
        )
    )
    return placed


def _overdue(today: date) -> Any:
    """Say whether a construct is past its removal time, and this is its next open review."""
    past = Q(pk__in=[])
    for kind in ConstructType.objects.filter(planned_removal=True):
        past |= Q(
            procedure__construct__construct_type_id=kind.pk,
            procedure__performed_on__lt=today - timedelta(weeks=kind.removal_due_weeks or 0),
        )
    out = Procedure.objects.filter(
        revises=OuterRef("procedure"),
        kind__in=[ProcedureKind.IMPLANT_REMOVAL, ProcedureKind.REVISION_FIXATION],
    )
    # A signed decision to keep it, or to ask again on a later day, is an answer.
    answered = HardwareDecision.objects.filter(procedure=OuterRef("procedure")).filter(
        Q(state=HardwareState.DECLINED) | Q(state=HardwareState.DEFERRED, deferred_until__gt=today)
    )
    earlier = Review.objects.filter(
        procedure=OuterRef("procedure"), state__in=WAITING, due_on__lt=OuterRef("due_on")
    )
    overdue = past & ~Exists(out) & ~Exists(answered) & ~Exists(earlier)
    return Case(When(overdue, then=True), default=False)


def _in_sight(today: date, wanted: DueFilter) -> Q:
    if wanted.week_of is not None:
        last = wanted.week_of + timedelta(days=6)
        return Q(opens_on__lte=last, closes_on__gte=wanted.week_of)
    # What has closed lapses in the night, an operation of long ago that was typed in today included.
    open_still = Q(closes_on__gte=today) | Q(state=ReviewState.BOOKED)
    near = Q(opens_on__lte=today + timedelta(days=LOOK_AHEAD_DAYS))
    return (near & open_still) | Q(removal_overdue=True)


def _filtered(rows: "QuerySet[Any]", today: date, wanted: DueFilter) -> "QuerySet[Any]":
    conditions = {
        "in_window": Q(opens_on__lte=today, closes_on__gte=today),
        "late": Q(due_on__lt=today),
        "closing": Q(
            opens_on__lte=today, closes_on__lte=today + timedelta(days=ABOUT_TO_CLOSE_DAYS)
        ),
        "unbooked": Q(state__in=[ReviewState.PLANNED, ReviewState.MISSED]),
        "missed": Q(state=ReviewState.MISSED),
    }
    if wanted.show in conditions:
        rows = rows.filter(conditions[wanted.show])
    if wanted.clinic_id is not None:
        rows = rows.filter(appointments__clinic_id=wanted.clinic_id, appointments__state="booked")
    if wanted.surgeon_id is not None:
        rows = rows.filter(procedure__surgeon_id=wanted.surgeon_id)
    return rows


def _line(review: Any, today: date) -> DueRow:
    kind = review.procedure.construct.construct_type if _has_construct(review) else None
    removal_due = (
        review.procedure.performed_on + timedelta(weeks=kind.removal_due_weeks)
        if kind is not None and kind.removal_due_weeks
        else None
    )
    booked = [slot for slot in review.appointments.all() if slot.state == "booked"]
    facts = DueFacts(
        tier=Tier(review.tier),
        today=today,
        due_on=review.due_on,
        closes_on=review.closes_on,
        removal_due_on=removal_due,
        is_booked=bool(booked),
    )
    return DueRow(
        review=review,
        name=str(review.procedure.injury.patient.identity),
        reason=reason(facts),
        act_now=review.tier <= Tier.EARLY_AFTER_DEPARTURE,
        timing=timing(Window(review.opens_on, review.due_on, review.closes_on), today),
        slot=f"{booked[0].on:%a %d %b} {booked[0].at:%H:%M}, {booked[0].clinic}" if booked else "",
        slot_has_come=bool(booked) and booked[0].on <= today,
        attempts=len(review.contact_attempts.all()),
    )


def _has_construct(review: Any) -> bool:
    return hasattr(review.procedure, "construct")
