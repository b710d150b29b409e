"""Frozen copies of the cohort frames that figures read."""

from django.db import models


class Snapshot(models.Model):
    """The frames of all sites at one position of the audit trail, with their content hash."""

    taken_at = models.DateTimeField()
    cutoff = models.DateField()
    audit_position = models.BigIntegerField()
    content_hash = models.CharField(max_length=64)
    row_counts = models.JSONField()
    code_version = models.CharField(max_length=20)
    frames = models.BinaryField()

    class Meta:
        ordering = ["-id"]
        get_latest_by = "id"

    def __str__(self) -> str:
        return f"{self.taken_at:%Y-%m-%d %H:%M} {self.content_hash[:12]}"
