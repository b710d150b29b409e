"""When each patient was last heard of: came to a review, was reached, answered from home."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Max

from followup.models.contacts import ContactAttempt, ContactOutcome
from followup.models.questionnaires import Answer
from followup.models.replies import Reply
from followup.models.reviews import Review, ReviewState

HEARD = (ContactOutcome.REACHED, ContactOutcome.DECLINED)


@dataclass(frozen=True)
class LastContact:
    """The day on which a patient was last heard of, and how."""

    on: date
    how: str


def last_contacts(patients: Collection[int], sites: Collection[int]) -> dict[int, LastContact]:
    """Return the last contact of each of some patients who was ever heard of at some sites.

    `sites` are those at which whoever looks may trace: nobody learns how another site reached them.
    """
    ways: tuple[tuple[str, Any, str, str], ...] = (
        (
            "came to a review",
            Review.objects.filter(state=ReviewState.ATTENDED),
            "procedure__injury__patient",
            "attended_on",
        ),
        ("reached", ContactAttempt.objects.filter(outcome__in=HEARD), "patient", "tried_at"),
        (
            "answered at home",
            Answer.objects.all(),
            "invitation__review__procedure__injury__patient",
            "changed_at",
        ),
        ("wrote back", Reply.objects.all(), "patients", "received_at"),
    )
    found: dict[int, LastContact] = {}
    for how, rows, way, moment in ways:
        lines = rows.filter(**{f"{way}__in": patients}, site__in=sites).order_by().values_list(way)
        for patient, last in lines.annotate(last=Max(moment)):
            on = last if moment == "attended_on" else last.date()
            known = found.get(patient)
            if known is None or known.on < on:
                found[patient] = LastContact(on, how)
    return found
