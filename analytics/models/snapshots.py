"""Frozen copies of the cohort frames that figures read."""

from django.db import models


class Snapshot(models.Model):
    """The frames of all sites at one position of the audit trail, with their content hash.

    The frames are its tables. Snapshots of the first kind have none and hold everything in `frames`;
    they stay readable. `definitions` are the versions of the endpoint definitions that shipped then.
    What has words in `kept_for` is not dropped.
    """

    archived_alone = False

    taken_at = models.DateTimeField()
    cutoff = models.DateField()
    audit_position = models.BigIntegerField()
    content_hash = models.CharField(max_length=64, db_index=True)
    row_counts = models.JSONField()
    code_version = models.CharField(max_length=20)
    definitions = models.JSONField(default=dict)
    kept_for = models.JSONField(default=list, blank=True)
    frames = models.BinaryField(default=b"")

    class Meta:
        ordering = ["-id"]
        get_latest_by = "id"

    def __str__(self) -> str:
        return f"{self.taken_at:%Y-%m-%d %H:%M} {self.content_hash[:12]}"


class SnapshotTable(models.Model):
    """One frame of a snapshot as Parquet: the hash of what is in it, and of the bytes.

    Verdicts of a definition lie beside the frames they follow from, under a name of their own; they
    are no part of the snapshot's hash.
    """

    archived_alone = False

    snapshot = models.ForeignKey(Snapshot, on_delete=models.CASCADE, related_name="tables")
    name = models.CharField(max_length=80)
    rows = models.PositiveIntegerField()
    content_hash = models.CharField(max_length=64)
    bytes_hash = models.CharField(max_length=64)
    content = models.BinaryField()

    class Meta:
        ordering = ["snapshot", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["snapshot", "name"], name="analytics_snapshottable_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.rows} rows"
