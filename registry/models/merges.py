"""Two entries of one person: brought together, parted again, or said to be two people."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from registry.models.base import AuditedRow
from registry.models.patients import Patient


class PatientMerge(AuditedRow):
    """One patient was merged into another. `moved` names the rows, by table, so that it can be undone."""

    archived_by = ("kept__site", "kept__at_sites__site", "merged__site")

    kept = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="merges_kept")
    merged = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="merges_away")
    merged_at = models.DateTimeField()
    merged_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    reason = models.CharField(max_length=300)
    moved = models.JSONField(default=dict)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    class Meta:
        ordering = ["-merged_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(kept=F("merged")), name="registry_patientmerge_of_two"
            ),
            models.CheckConstraint(
                condition=~Q(reason=""), name="registry_patientmerge_has_reason"
            ),
            models.CheckConstraint(
                condition=Q(undone_at__isnull=True, undone_by__isnull=True)
                | Q(undone_at__isnull=False, undone_by__isnull=False),
                name="registry_patientmerge_undone_by_somebody",
            ),
            models.UniqueConstraint(
                fields=["merged"],
                condition=Q(undone_at__isnull=True),
                name="registry_patientmerge_merged_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.merged} into {self.kept}"


class TwoPeople(AuditedRow):
    """Somebody looked at two similar entries and said that they are different people."""

    first = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="+")
    second = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="+")
    said_at = models.DateTimeField()
    said_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        verbose_name_plural = "two people"
        constraints = [
            models.UniqueConstraint(fields=["first", "second"], name="registry_twopeople_once"),
            models.CheckConstraint(
                condition=Q(first__lt=F("second")), name="registry_twopeople_in_order"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.first} is not {self.second}"
