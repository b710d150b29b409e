"""What left the team as a table for outside, and of which people: so that no two give a few of them away."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from registry.models.base import AuditedRow


class Release(AuditedRow):
    """One table, or one pack of them, for outside: when, by whom, of which cohort, and the hash of its rows."""

    archived_alone = False

    what = models.CharField(max_length=80)
    cohort = models.CharField(max_length=300)
    snapshot_hash = models.CharField(max_length=64)
    content_hash = models.CharField(max_length=64)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["what", "cohort", "snapshot_hash", "content_hash"],
                name="analytics_release_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.what}, {self.at:%d %b %Y}"


class ReleasedPopulation(models.Model):
    """The patients of one line that was told, as digests of their keys; the same ones stand here once.

    It is only ever added to, and stands outside the trail, which would repeat every list.
    """

    archived_alone = False

    release = models.ForeignKey(Release, on_delete=models.PROTECT, related_name="populations")
    group = models.CharField(max_length=80)
    members_hash = models.CharField(max_length=64, unique=True)
    members = models.JSONField()
    number = models.PositiveIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(number__gt=7), name="analytics_population_not_few")
        ]

    def __str__(self) -> str:
        return f"{self.number} patients of {self.release}"
