"""Keeping what is typed on a visit's page until it is saved, and saying who has the page open."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction

from followup.models.drafts import VisitDraft, VisitPresence
from followup.models.reviews import Review
from followup.rules.visit_drafts import kept
from followup.selectors.drafts import GONE_AFTER
from registry.models.patients import Patient
from registry.models.people import Person
from registry.services import gathering

FORGOTTEN_AFTER = timedelta(days=14)


def keep_draft(
    *, review: Review, typed: Mapping[str, str], seen_version: int, by: Person, now: datetime
) -> bool:
    """Keep what a person typed so far, in place of what was kept before; say whether it was kept.

    What was on its way while the same person saved the visit comes too late, and is dropped. An
    empty page keeps nothing. Drafts of nobody's interest any more are forgotten on the way.
    """
    VisitDraft.objects.filter(saved_at__lt=now - FORGOTTEN_AFTER).delete()
    mine = VisitDraft.objects.filter(person=by, review=review)
    found = kept(typed)
    with transaction.atomic():
        stands = Review.objects.select_for_update().get(pk=review.pk)
        if stands.version > seen_version and stands.changed_by_id == by.pk:
            return False
        if not found:
            mine.delete()
            return False
        values = {"typed": found, "review_version": seen_version, "saved_at": now}
        VisitDraft.objects.update_or_create(person=by, review=review, defaults=values)
    return True


def forget_draft(*, review: Review, by: Person) -> None:
    """Forget what a person typed on a visit's page."""
    if gathering.is_new(review):
        return
    VisitDraft.objects.filter(person=by, review=review).delete()


def forget_of_patient(*, patient: Patient) -> None:
    """Forget everybody's drafts about a patient who was erased."""
    VisitDraft.objects.filter(review__procedure__injury__patient=patient).delete()
    VisitPresence.objects.filter(review__procedure__injury__patient=patient).delete()


def mark_present(*, review: Review, by: Person, now: datetime) -> None:
    """Note that a person has the page open; whoever comes back after a while comes anew."""
    mine = VisitPresence.objects.filter(person=by, review=review)
    if mine.filter(seen_at__gt=now - GONE_AFTER).update(seen_at=now):
        return
    if mine.update(since=now, seen_at=now):
        return
    # Two pages of one person may tell of themselves at once.
    try:
        with transaction.atomic():
            VisitPresence.objects.create(person=by, review=review, since=now, seen_at=now)
    except IntegrityError:
        mine.update(seen_at=now)
    VisitPresence.objects.filter(seen_at__lt=now - timedelta(days=1)).delete()
