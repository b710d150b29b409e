from datetime import timedelta
from typing import Any

import pytest

from followup.models import Review, VisitDraft, VisitPresence
from followup.selectors import drafts as selector
from followup.services import drafts, visits
from registry.models import Person
from registry.services import erasure
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture
def review(db: None) -> Review:
    found: Review = builders.procedure().reviews.get(step__code="6m")
    return found


def keep(review: Review, by: Person, typed: dict[str, str] | None = None, **more: Any) -> bool:
    given = {"seen_version": review.version, "now": NOW, **more}
    return drafts.keep_draft(review=review, typed=typed or {"pain_nrs": "3"}, by=by, **given)


def test_the_last_state_of_the_page_is_kept_and_nobody_else_sees_it(
    review: Review, surgeon: Person
) -> None:
    other = builders.person("second", north="surgeon")
    assert keep(review, surgeon)
    assert keep(review, surgeon, {"pain_nrs": "4", "decision_state": "planned"})
    mine = selector.draft_of(surgeon, review)
    assert mine is not None
    assert mine.typed == {"pain_nrs": "4"}
    assert selector.draft_of(other, review) is None


def test_a_page_that_was_emptied_keeps_nothing(review: Review, surgeon: Person) -> None:
    keep(review, surgeon)
    assert not keep(review, surgeon, {"pain_nrs": ""})
    assert not VisitDraft.objects.exists()


def test_saving_drops_the_own_draft_and_what_comes_too_late(
    review: Review, surgeon: Person
) -> None:
    other = builders.person("second", north="surgeon")
    keep(review, surgeon)
    keep(review, other, {"sane": "40"})
    seen = review.version
    visits.save_visit(
        review=review,
        visited_on=TODAY,
        findings=visits.VisitFindings(next_step_note="rest"),
        expected_version=seen,
        by=surgeon,
        now=NOW,
        today=TODAY,
    )
    assert not keep(review, surgeon, seen_version=seen)
    assert selector.draft_of(surgeon, review) is None
    # Whoever was second still has what they typed, and is told that somebody saved.
    assert keep(review, other, {"sane": "45"}, seen_version=seen)
    theirs = selector.draft_of(other, review)
    assert theirs is not None
    assert theirs.review_version < Review.objects.get(pk=review.pk).version


def test_old_drafts_are_forgotten(review: Review, surgeon: Person) -> None:
    keep(review, surgeon, now=NOW - timedelta(days=15))
    other = builders.procedure().reviews.get(step__code="6m")
    keep(other, surgeon)
    assert VisitDraft.objects.get().review_id == other.pk


def test_who_has_the_page_open_is_known_to_the_other_until_half_a_minute_after(
    review: Review, surgeon: Person
) -> None:
    other = builders.person("second", north="surgeon")
    drafts.mark_present(review=review, by=surgeon, now=NOW)
    drafts.mark_present(review=review, by=surgeon, now=NOW + timedelta(seconds=8))
    assert selector.others_at(surgeon, review, NOW) == []
    seen = selector.others_at(other, review, NOW + timedelta(seconds=20))
    assert [(one.person_id, one.since) for one in seen] == [(surgeon.pk, NOW)]
    assert selector.others_at(other, review, NOW + timedelta(seconds=39)) == []


def test_whoever_comes_back_later_has_come_anew(review: Review, surgeon: Person) -> None:
    drafts.mark_present(review=review, by=surgeon, now=NOW)
    later = NOW + timedelta(minutes=5)
    drafts.mark_present(review=review, by=surgeon, now=later)
    assert VisitPresence.objects.get().since == later


def test_an_erased_patient_leaves_no_draft(review: Review, surgeon: Person) -> None:
    keep(review, surgeon)
    drafts.mark_present(review=review, by=surgeon, now=NOW)
    patient = review.procedure.injury.patient
    erasure.erase_patient(patient=patient, reason="by letter", by=surgeon, now=NOW, today=TODAY)
    assert not VisitDraft.objects.exists()
    assert not VisitPresence.objects.exists()


def test_a_draft_can_be_forgotten(review: Review, surgeon: Person) -> None:
    keep(review, surgeon)
    drafts.forget_draft(review=review, by=surgeon)
    assert selector.draft_of(surgeon, review) is None
