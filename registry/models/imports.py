"""The ledger of case imports: which file, which rows, what became of each."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from registry.models.base import AuditedRow, one_of
from registry.models.procedures import Procedure
from registry.models.sites import Site


class ImportState(models.TextChoices):
    DONE = "done", "Imported whole"
    PARTIAL = "partial", "Good rows imported"
    REFUSED = "refused", "Refused"


class ImportBatch(AuditedRow):
    """One file given to the service, with its counts."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    file_name = models.CharField(max_length=200)
    content_hash = models.CharField(max_length=64, db_index=True)
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    state = models.CharField(max_length=10, choices=ImportState.choices)
    rows_read = models.PositiveIntegerField()
    rows_landed = models.PositiveIntegerField()
    rows_known = models.PositiveIntegerField()
    rows_refused = models.PositiveIntegerField()

    class Meta:
        verbose_name_plural = "import batches"
        ordering = ["-started_at"]
        constraints = [
            one_of("state", ImportState, "registry_importbatch_state_known"),
            models.CheckConstraint(
                condition=Q(
                    rows_read=models.F("rows_landed")
                    + models.F("rows_known")
                    + models.F("rows_refused")
                )
                | Q(state=ImportState.REFUSED),
                name="registry_importbatch_rows_add_up",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.file_name}: {self.get_state_display().lower()}"


class ImportRow(models.Model):
    """One row of a file. The fingerprint makes the same row land once."""

    batch = models.ForeignKey(ImportBatch, on_delete=models.CASCADE, related_name="rows")
    line = models.PositiveIntegerField()
    fingerprint = models.CharField(max_length=64)
    procedure = models.ForeignKey(
        Procedure, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    reason = models.TextField(blank=True, default="")

    class Meta:
        ordering = ["line"]
        indexes = [models.Index(fields=["fingerprint"])]
        constraints = [
            models.UniqueConstraint(fields=["batch", "line"], name="registry_importrow_line_once")
        ]

    def __str__(self) -> str:
        return f"line {self.line}"
