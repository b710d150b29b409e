"""Copies of everything as FHIR, asked for by a person, made by a worker, kept for a day."""

from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import Q

from registry.models.base import one_of


class ExportState(models.TextChoices):
    ASKED = "asked", "Asked for"
    BEING_MADE = "being_made", "Being made"
    READY = "ready", "Ready"
    FAILED = "failed", "Failed"


class BulkExport(models.Model):
    """One copy that somebody asked for: which types, what changed since when, and how far it is.

    `asked_at` is the moment of which it is. `facts_at` and `names_at` are the sites whose facts and
    names are in it, so that it is handed out only as long as its asker may see as much. It stands
    outside the trail, which has who asked for it and who took which file.
    """

    archived = False

    uuid = models.UUIDField(unique=True, default=uuid4, editable=False)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    asked_at = models.DateTimeField()
    request = models.CharField(max_length=1000)
    types = models.JSONField(default=list)
    since = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=ExportState.choices, default=ExportState.ASKED)
    facts_at = models.JSONField(default=list, blank=True)
    names_at = models.JSONField(default=list, blank=True)
    resources_done = models.PositiveIntegerField(default=0)
    fault = models.CharField(max_length=400, blank=True, default="")
    made_at = models.DateTimeField(null=True, blank=True)
    expires_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            one_of("state", ExportState, "followup_bulkexport_state_known"),
            models.CheckConstraint(
                condition=Q(state="failed") & ~Q(fault="") | ~Q(state="failed") & Q(fault=""),
                name="followup_bulkexport_failed_says_why",
            ),
            models.CheckConstraint(
                condition=~Q(state="ready") | Q(made_at__isnull=False),
                name="followup_bulkexport_ready_has_moment",
            ),
        ]

    def __str__(self) -> str:
        return f"Copy asked for on {self.asked_at:%d %b %Y}"


class BulkFile(models.Model):
    """One file of a copy: all resources of one type, or what could not be written."""

    archived = False

    export = models.ForeignKey(BulkExport, on_delete=models.CASCADE, related_name="files")
    kind = models.CharField(max_length=40)
    is_error = models.BooleanField(default=False)
    stored_name = models.CharField(max_length=200)
    resources = models.PositiveIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["export", "kind", "is_error"], name="followup_bulkfile_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.export}"
