"""The ledger of case imports: which file, which rows, what became of each."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from registry.models.base import AuditedRow, one_of
from registry.models.procedures import Procedure
from registry.models.sites import Site


class ImportState(models.TextChoices):
    RUNNING = "running", "Being imported"
    DONE = "done", "Imported whole"
    PARTIAL = "partial", "Good rows imported"
    REFUSED = "refused", "Refused"
    UNDONE = "undone", "Taken back"


class ImportFate(models.TextChoices):
    LANDED = "landed", "Added"
    KNOWN = "known", "Known already"
    REFUSED = "refused", "Refused"
    WAITING = "waiting", "Waiting for a decision"


class ImportBatch(AuditedRow):
    """One file given to the service, with its counts and how its columns were read.

    Everything that it adds carries the moment `started_at` and the person `started_by`, also where it
    was gone on with later: that tells what it made from what came after.
    """

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
    rows_waiting = models.PositiveIntegerField(default=0, db_default=0)
    # What each column was used for, and the names of those that were left out.
    how = models.JSONField(default=dict, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    undone_because = models.CharField(max_length=300, blank=True, default="", db_default="")

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
                    + models.F("rows_waiting")
                )
                | Q(state__in=[ImportState.REFUSED, ImportState.RUNNING]),
                name="registry_importbatch_rows_add_up",
            ),
            models.CheckConstraint(
                condition=Q(state=ImportState.UNDONE, undone_at__isnull=False)
                & ~Q(undone_because="")
                | (~Q(state=ImportState.UNDONE) & Q(undone_at__isnull=True, undone_because="")),
                name="registry_importbatch_undone_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.file_name}: {self.get_state_display().lower()}"


class ImportRow(models.Model):
    """One row of a file, written in the transaction that settles it: a line lands once.

    The fingerprint makes the same row land once from any file. `ended_as` is how follow-up ended by
    this row, told to the patient when all rows are there; `number` the identifier that it issued.
    """

    batch = models.ForeignKey(ImportBatch, on_delete=models.CASCADE, related_name="rows")
    line = models.PositiveIntegerField()
    fingerprint = models.CharField(max_length=64)
    procedure = models.ForeignKey(
        Procedure, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    reason = models.TextField(blank=True, default="")
    fate = models.CharField(max_length=10, choices=ImportFate.choices)
    enrolled = models.BooleanField(default=False, db_default=False)
    number = models.ForeignKey(
        "registry.Identifier", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    ended_as = models.CharField(max_length=10, blank=True, default="", db_default="")
    ended_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["line"]
        indexes = [models.Index(fields=["fingerprint"])]
        constraints = [
            models.UniqueConstraint(fields=["batch", "line"], name="registry_importrow_line_once"),
            one_of("fate", ImportFate, "registry_importrow_fate_known"),
            models.CheckConstraint(
                condition=Q(fate=ImportFate.LANDED, procedure__isnull=False)
                | (~Q(fate=ImportFate.LANDED) & Q(procedure__isnull=True)),
                name="registry_importrow_landed_has_procedure",
            ),
        ]

    def __str__(self) -> str:
        return f"line {self.line}"
