"""Calendar addresses that a person's own calendar program reads, and what they may show."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from followup.models.calendars import Clinic
from registry.models.base import AuditedRow
from registry.models.sites import Site


class CalendarFeed(AuditedRow):
    """One secret address of one person: a clinic's appointments, or that surgeon's own at a site.

    Only the hash of its token is kept. It falls silent when it is revoked, and when its owner may
    no longer see the clinic list of the site.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="calendar_feeds")
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="calendar_feeds"
    )
    clinic = models.ForeignKey(
        Clinic, on_delete=models.PROTECT, related_name="calendar_feeds", null=True, blank=True
    )
    token_hash = models.CharField(max_length=64, unique=True)
    begins = models.CharField(max_length=6)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    last_used_at = models.DateTimeField(null=True, blank=True)
    # What was handed out last, and since when: what a program that polls is told of.
    digest = models.CharField(max_length=64, blank=True, default="")
    digest_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["owner", "clinic"],
                condition=Q(revoked_at__isnull=True, clinic__isnull=False),
                name="followup_calendarfeed_one_of_clinic",
            ),
            models.UniqueConstraint(
                fields=["owner", "site"],
                condition=Q(revoked_at__isnull=True, clinic__isnull=True),
                name="followup_calendarfeed_one_of_surgeon",
            ),
            models.CheckConstraint(
                condition=Q(revoked_at__isnull=True, revoked_by__isnull=True)
                | Q(revoked_at__isnull=False, revoked_by__isnull=False),
                name="followup_calendarfeed_revoked_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return str(self.clinic) if self.clinic is not None else f"{self.owner}, {self.site}"


class CalendarPolicy(AuditedRow):
    """Whether a site lets patients' names into calendars; without a row it does not."""

    site = models.OneToOneField(Site, on_delete=models.PROTECT, related_name="calendar_policy")
    shows_names = models.BooleanField(default=False)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        verbose_name_plural = "calendar policies"

    def __str__(self) -> str:
        return f"Calendars of {self.site}"
