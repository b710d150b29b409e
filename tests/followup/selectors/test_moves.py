"""What went out about an injury before it was moved."""

import pytest

from followup.models import Message, Review
from followup.selectors.moves import gone_out, gone_out_about
from followup.services import contacts
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.usefixtures("defaults")


def test_what_reached_somebody_is_named_and_what_waits_is_not() -> None:
    operation = builders.procedure(builders.injury())
    review: Review = operation.reviews.earliest("pk")
    patient = operation.injury.patient
    for state in ("sent", "waiting"):
        Message.objects.create(
            site=review.site,
            patient=patient,
            key=state,
            review=review,
            purpose="reminder",
            state=state,
            wanted_at=NOW,
            sent_at=NOW if state == "sent" else None,
        )
    contacts.record_attempt(
        review=review, means="phone", outcome="no_answer", note="", by=patient.recorded_by, now=NOW
    )
    told = [one.what for one in gone_out(operation.injury)]
    assert told == ["Reminder of a review, sent on 25 Nov 2026", "Try of 25 Nov 2026: no answer"]
    assert gone_out(builders.injury()) == []
    assert [one.what for one in gone_out_about([operation.pk])] == told
