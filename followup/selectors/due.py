"""The Due list: filtered, ordered and paged in the database.

It reads what waits and is near, by an index of its own, and never the rest: with 600,000 reviews it
takes what it takes with 1,000 (tests/bench/due.py).
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django.db.models import (
    Case,
    Count,
    Exists,
    F,
    IntegerField,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)

from followup.models.contacts import Unreachable
from followup.models.hardware import HardwareDecision, HardwareState
from followup.models.reviews import Appointment, Review, ReviewState
from followup.rules.prompts import OPEN
from followup.rules.urgency import EARLY_STEPS_CLOSE_WITHIN_DAYS, Tier
from followup.rules.windows import ABOUT_TO_CLOSE_DAYS
from followup.selectors.films_wanted import wants_film
from followup.selectors.visible import visible
from registry.models.constructs import ConstructDeparture
from registry.models.patients import PatientStatus
from registry.models.procedures import Procedure, ProcedureKind
from registry.selectors.visible import Viewer

WAITING = (ReviewState.PLANNED, ReviewState.BOOKED, ReviewState.MISSED)
LOOK_AHEAD_DAYS = 14
LOST = Unreachable.objects.filter(
    patient=OuterRef("procedure__injury__patient"), site=OuterRef("site"), ended_on__isnull=True
)


@dataclass(frozen=True)
class DueFilter:
    """What the coordinator asked to see."""

    show: str = "all"
    week_of: date | None = None
    clinic_id: int | None = None
    surgeon_id: int | None = None

    def address(self) -> str:
        """Return the filter as an address writes it."""
        asked = {
            "show": self.show,
            "week": self.week_of.isoformat() if self.week_of else "",
            "clinic": self.clinic_id or "",
            "surgeon": self.surgeon_id or "",
        }
        return urlencode({name: value for name, value in asked.items() if value})


SHOWS = {
    "all": "Everything due",
    "in_window": "In window",
    "late": "Late",
    "closing": "About to close",
    "unbooked": "Not booked",
    "missed": "Missed",
    "unreachable": "Cannot be reached",
}


@dataclass(frozen=True)
class DueList:
    """What is shown, most urgent first, out of what is in sight.

    The rest has left it because nobody can be reached there; somebody who is booked, or whose
    hardware is past its removal time, is shown all the same.
    """

    rows: "QuerySet[Any]"
    in_sight: "QuerySet[Any]"
    is_shown: Q

    def numbers(self) -> tuple[int, int]:
        """Return how many are shown and how many have left it, counted in one pass."""
        counted = self.in_sight.aggregate(all=Count("pk"), shown=Count("pk", filter=self.is_shown))
        return counted["shown"], counted["all"] - counted["shown"]


def due_list(user: Viewer, today: date, wanted: DueFilter) -> DueList:
    """Return the waiting reviews that a person may see, in the order of followup/rules/urgency.py."""
    rows = _waiting(visible(user, Review, "see_due"))
    overdue = _overdue(rows, today)
    rows = _filtered(rows.filter(_in_sight(today, wanted, overdue)), today, wanted)
    in_sight = rows.alias(is_lost=Exists(LOST))
    ordered = _placed(in_sight, today, overdue).order_by("tier", "due_on", "id")
    if wanted.show == "unreachable":
        lost = Q(is_lost=True)
        return DueList(ordered.filter(lost), in_sight.filter(lost), lost)
    shown = Q(is_lost=False) | Q(state=ReviewState.BOOKED) | Q(pk__in=overdue)
    return DueList(ordered.filter(shown), in_sight, shown)


def due_reviews(user: Viewer, today: date, wanted: DueFilter) -> "QuerySet[Any]":
    """Return the reviews of the list."""
    return due_list(user, today, wanted).rows


def in_order(rows: "QuerySet[Any]", today: date) -> "QuerySet[Any]":
    """Put any reviews in the order of the list."""
    placed = _placed(rows, today, _overdue(_waiting(rows), today))
    ordered: QuerySet[Any] = placed.order_by("tier", "due_on", "id")
    return ordered


def with_standing(rows: "QuerySet[Any]") -> "QuerySet[Any]":
    """Say of each review since when and why its patient cannot be reached, where that is so."""
    standing: QuerySet[Any] = rows.annotate(
        lost_since=Subquery(LOST.values("since")[:1]),
        lost_reason=Subquery(LOST.values("reason")[:1]),
    )
    return standing


def with_details(rows: "QuerySet[Any]") -> "QuerySet[Any]":
    """Fetch with a page of reviews what its lines show, in a fixed number of queries."""
    slots = Appointment.objects.select_related("clinic")
    detailed: QuerySet[Any] = (
        with_standing(rows)
        .select_related(
            "site",
            "step",
            "procedure__injury__patient__identity",
            "procedure__construct__construct_type",
        )
        .prefetch_related(Prefetch("appointments", queryset=slots))
    )
    return detailed


def page_of(rows: "QuerySet[Any]", keys: Collection[int]) -> "QuerySet[Any]":
    """Return the reviews of one page of the list, by their keys, in its order and with their details.

    The list is ordered by what it knows of each review alone: to fetch names and slots of all that
    are in sight, so that fifty can be shown, took twice as long.
    """
    return with_details(rows.filter(pk__in=keys))


def in_sight_pairs(site_ids: Collection[int], today: date) -> Iterator[tuple[int, int]]:
    """Yield (patient, site) of everybody who is due at some sites, in a stream."""
    rows = _waiting(Review.objects.filter(site__in=site_ids))
    pairs: Iterable[tuple[int, int]] = (
        rows.filter(_in_sight(today, DueFilter(), []))
        .order_by("procedure__injury__patient_id", "site_id")
        .values_list("procedure__injury__patient_id", "site_id")
        .distinct()
        .iterator(chunk_size=500)
    )
    yield from pairs


def _waiting(rows: "QuerySet[Any]") -> "QuerySet[Any]":
    return rows.filter(
        state__in=WAITING,
        procedure__voided_at__isnull=True,
        procedure__injury__patient__status=PatientStatus.ACTIVE,
        procedure__injury__patient__merged_into__isnull=True,
    )


def _placed(rows: "QuerySet[Any]", today: date, overdue: Collection[int]) -> "QuerySet[Any]":
    """Give each review its tier: the table of followup/rules/urgency.py as a CASE expression."""
    departed = ConstructDeparture.objects.filter(construct__procedure=OuterRef("procedure"))
    closing = Q(closes_on__lte=today + timedelta(days=ABOUT_TO_CLOSE_DAYS), opens_on__lte=today)
    early = Q(
        due_on__lte=F("procedure__performed_on") + timedelta(days=EARLY_STEPS_CLOSE_WITHIN_DAYS),
        opens_on__lte=today,
    )
    placed: QuerySet[Any] = rows.annotate(
        tier=Case(
            When(pk__in=overdue, then=Value(int(Tier.REMOVAL_OVERDUE))),
            When(closing & wants_film(), then=Value(int(Tier.FILM_WINDOW_CLOSING))),
            When(early & Exists(departed), then=Value(int(Tier.EARLY_AFTER_DEPARTURE))),
            When(due_on__lt=today, then=Value(int(Tier.LATE))),
            When(opens_on__lte=today, then=Value(int(Tier.IN_WINDOW))),
            default=Value(int(Tier.LATER)),
            output_field=IntegerField(),
        )
    )
    return placed


def _overdue(rows: "QuerySet[Any]", today: date) -> list[int]:
    """Return the next open review of each construct that is in and past its removal time.

    Asked apart, because it holds whenever that review is due: few constructs are meant to come out,
    and the database finds them by their type instead of looking at every review.
    """
    out = Procedure.objects.filter(
        revises=OuterRef("procedure"),
        kind__in=[ProcedureKind.IMPLANT_REMOVAL, ProcedureKind.REVISION_FIXATION],
    )
    # A signed decision to keep it, or to ask again on a later day, is an answer, until a newer
    # question is open.
    questions = HardwareDecision.objects.filter(procedure=OuterRef("procedure"))
    rests = Q(state=HardwareState.DEFERRED, deferred_until__gt=today)
    waits = questions.filter(~rests, state__in=sorted(OPEN))
    answered = questions.filter(Q(state=HardwareState.DECLINED) | rests)
    earlier = Review.objects.filter(
        procedure=OuterRef("procedure"), state__in=WAITING, due_on__lt=OuterRef("due_on")
    )
    still_in = rows.filter(
        Exists(waits) | ~Exists(answered),
        ~Exists(out),
        ~Exists(earlier),
        procedure__construct__construct_type__planned_removal=True,
        procedure__performed_on__lt=today,
    ).values_list(
        "pk", "procedure__performed_on", "procedure__construct__construct_type__removal_due_weeks"
    )
    return [
        key
        for key, performed_on, weeks in still_in
        if performed_on < today - timedelta(weeks=weeks or 0)
    ]


def _in_sight(today: date, wanted: DueFilter, overdue: Collection[int]) -> Q:
    if wanted.week_of is not None:
        last = wanted.week_of + timedelta(days=6)
        return Q(opens_on__lte=last, closes_on__gte=wanted.week_of)
    # What has closed lapses in the night, an operation of long ago that was typed in today included.
    open_still = Q(closes_on__gte=today) | Q(state=ReviewState.BOOKED)
    near = Q(opens_on__lte=today + timedelta(days=LOOK_AHEAD_DAYS))
    return (near & open_still) | Q(pk__in=overdue)


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
