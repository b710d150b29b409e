"""The Due list as a table for elsewhere: by the patient's key, without any name or number."""

from collections.abc import Iterator
from datetime import date
from typing import Any

from django.db.models import Count, F, FilteredRelation, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from followup.models.contacts import ContactAttempt
from followup.models.reviews import AppointmentState
from followup.selectors.due import DueFilter, due_list, with_standing
from followup.selectors.due_lines import reason_of, slot_in_words
from registry.selectors.visible import Viewer

AT_ONCE = 500
HEADER = (
    "patient",
    "site",
    "review",
    "side",
    "operated_on",
    "construct",
    "state",
    "opens_on",
    "due_on",
    "closes_on",
    "why_here",
    "booked",
    "tries",
    "cannot_be_reached_since",
    "cannot_be_reached_because",
)


def export_rows(user: Viewer, today: date, wanted: DueFilter) -> Iterator[tuple[object, ...]]:
    """Yield the lines of the list, most urgent first, in one query however long it is."""
    tries = (
        ContactAttempt.objects.filter(review=OuterRef("pk"))
        .order_by()
        .values("review")
        .annotate(number=Count("pk"))
    )
    booked = Q(appointments__state=AppointmentState.BOOKED, appointments__voided_at__isnull=True)
    rows: QuerySet[Any] = (
        with_standing(due_list(user, today, wanted).rows)
        .annotate(
            tries=Coalesce(Subquery(tries.values("number")), 0),
            slot=FilteredRelation("appointments", condition=booked),
        )
        .annotate(
            slot_on=F("slot__on"), slot_at=F("slot__at"), slot_at_clinic=F("slot__clinic__name")
        )
        .select_related(
            "site", "step", "procedure__injury__patient", "procedure__construct__construct_type"
        )
    )
    for review in rows.iterator(chunk_size=AT_ONCE):
        yield _cells(review, today)


def _cells(review: Any, today: date) -> tuple[object, ...]:
    procedure = review.procedure
    return (
        procedure.injury.patient.key,
        review.site.code,
        review.step.name,
        procedure.injury.get_side_display().lower(),
        procedure.performed_on,
        procedure.construct if hasattr(procedure, "construct") else "",
        review.get_state_display().lower(),
        review.opens_on,
        review.due_on,
        review.closes_on,
        reason_of(review, today, is_booked=review.slot_on is not None),
        slot_in_words(review.slot_on, review.slot_at, review.slot_at_clinic)
        if review.slot_on is not None
        else "",
        review.tries,
        review.lost_since,
        review.lost_reason,
    )
