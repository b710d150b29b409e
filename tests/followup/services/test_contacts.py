"""Tries at reaching a patient."""

import pytest

from followup.models import ContactAttempt, Message, Review
from followup.services import contacts
from registry.errors import BadInput
from registry.models import Patient
from registry.services import merges
from tests import builders
from tests.builders import NOW, booked

pytestmark = pytest.mark.usefixtures("defaults")


def review_of(patient: Patient | None = None) -> Review:
    operation = builders.procedure(of=builders.injury(of=patient))
    found: Review = operation.reviews.get(step__code="6m")
    return found


def tried(review: Review, **values: str) -> ContactAttempt:
    given = {"means": "phone", "outcome": "no_answer", "note": "", **values}
    return contacts.record_attempt(review=review, by=review.recorded_by, now=NOW, **given)


def test_a_try_keeps_when_how_and_what_came_of_it() -> None:
    review = review_of()
    tried(review, outcome="message_left", note="with the neighbour")
    kept = ContactAttempt.objects.get()
    assert (kept.tried_at, kept.means, kept.outcome) == (NOW, "phone", "message_left")
    assert (kept.review, kept.patient) == (review, review.procedure.injury.patient)
    assert kept.note == "with the neighbour"


def test_every_try_is_kept_and_the_review_stays_as_it_was() -> None:
    review = review_of()
    tried(review)
    tried(review, outcome="declined")
    assert ContactAttempt.objects.filter(review=review).count() == 2
    stands = Review.objects.get(pk=review.pk)
    assert (stands.state, stands.version) == ("planned", 1)


@pytest.mark.parametrize("values", [{"means": "pigeon"}, {"outcome": "lost"}], ids=str)
def test_a_means_or_an_outcome_that_nobody_knows_is_refused(values: dict[str, str]) -> None:
    with pytest.raises(BadInput) as refused:
        tried(review_of(), **values)
    assert set(refused.value.faults) == set(values)
    assert not ContactAttempt.objects.exists()


def test_tries_and_messages_follow_a_merge_and_go_back_with_it() -> None:
    kept, merged = builders.patient(), builders.patient()
    own, review = review_of(kept), review_of(merged)
    tried(own)
    tried(review)
    booked(review)
    by = kept.recorded_by
    merge = merges.merge_patients(
        kept=kept,
        merged=merged,
        reason="the same passport",
        kept_version=kept.version,
        merged_version=merged.version,
        by=by,
        now=NOW,
    )
    assert ContactAttempt.objects.filter(patient=kept).count() == 2
    assert Message.objects.get().patient == kept
    merges.unmerge_patients(merge=merge, by=by, now=NOW)
    assert ContactAttempt.objects.get(patient=merged).review == review
    assert ContactAttempt.objects.get(patient=kept).review == own
    assert Message.objects.get().patient == merged
