"""What a person keeps of the lists: filters under a name; and the sums of each night."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from registry.models.base import AuditedRow
from registry.models.sites import Site


class SavedFilter(AuditedRow):
    """A view of the Due list that one person keeps under a name; one of them may be the first seen."""

    archived_by = ("person__memberships__site",)

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="saved_filters"
    )
    name = models.CharField(max_length=60)
    query = models.CharField(max_length=300)
    is_start = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["person", "name"], name="followup_savedfilter_once"),
            models.UniqueConstraint(
                fields=["person"],
                condition=Q(is_start=True),
                name="followup_savedfilter_one_start",
            ),
            models.CheckConstraint(condition=~Q(name=""), name="followup_savedfilter_has_name"),
        ]

    def __str__(self) -> str:
        return self.name


class ReviewSum(models.Model):
    """How the reviews of a site stood when they were counted, once a day; by way of standing."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="review_sums")
    on = models.DateField()
    counted_at = models.DateTimeField()
    planned = models.PositiveIntegerField()
    counts = models.JSONField()

    class Meta:
        ordering = ["-on", "site"]
        constraints = [
            models.UniqueConstraint(fields=["site", "on"], name="followup_reviewsum_once_a_day")
        ]

    def __str__(self) -> str:
        return f"{self.planned} reviews of {self.site} on {self.on:%d %b %Y}"
