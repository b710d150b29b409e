"""Tries at reaching a patient."""

from datetime import datetime

from followup.models.contacts import ContactAttempt
from followup.models.reviews import Review
from registry.models.people import Person
from registry.services import records


def record_attempt(
    *, review: Review, means: str, outcome: str, note: str, by: Person, now: datetime
) -> ContactAttempt:
    """Write down one try at reaching the patient of a review."""
    return records.create(
        ContactAttempt(
            patient_id=review.procedure.injury.patient_id,
            review=review,
            site=review.site,
            tried_at=now,
            means=means,
            outcome=outcome,
            note=note,
        ),
        by=by,
        now=now,
    )
