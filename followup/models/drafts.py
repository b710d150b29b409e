"""What is typed and not saved yet, and who has a visit's page open: bookkeeping, no clinical facts."""

from django.conf import settings
from django.db import models

from followup.models.reviews import Review


class VisitDraft(models.Model):
    """What one person typed on one visit's page. Nobody else sees it; it goes when the visit is saved."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="visit_drafts"
    )
    review = models.ForeignKey(Review, on_delete=models.CASCADE, related_name="drafts")
    typed = models.JSONField(default=dict)
    # The version of the review over which it was typed.
    review_version = models.PositiveIntegerField()
    saved_at = models.DateTimeField(db_index=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person", "review"], name="followup_visitdraft_one_each"
            )
        ]

    def __str__(self) -> str:
        return f"Draft of {self.person}, {self.saved_at:%d %b %Y %H:%M}"


class VisitPresence(models.Model):
    """Somebody who has a visit's page open, and when their browser last said so."""

    # Who has a page open at this moment.
    archived = False

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    review = models.ForeignKey(Review, on_delete=models.CASCADE, related_name="presences")
    since = models.DateTimeField()
    seen_at = models.DateTimeField(db_index=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person", "review"], name="followup_visitpresence_one_each"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} since {self.since:%H:%M}"
