"""A person's own draft of a visit, and who else has the visit's page open."""

from datetime import datetime, timedelta

from followup.models.drafts import VisitDraft, VisitPresence
from followup.models.reviews import Review
from registry.models.people import Person

# Pages tell of themselves every 8 seconds (`data-every` in visit.html); three may be lost.
GONE_AFTER = timedelta(seconds=30)


def draft_of(person: Person, review: Review) -> VisitDraft | None:
    """Return what this person typed on this visit's page; nobody else's."""
    return VisitDraft.objects.filter(person=person, review=review).first()


def others_at(person: Person, review: Review, now: datetime) -> list[VisitPresence]:
    """Return who else has the page open, the longest first."""
    rows = VisitPresence.objects.filter(review=review, seen_at__gt=now - GONE_AFTER)
    return list(rows.exclude(person=person).select_related("person").order_by("since", "id"))
