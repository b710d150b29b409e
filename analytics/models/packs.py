"""Packs of figures for a meeting: asked for by a person, made by a worker, kept with their files."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from analytics.models.meetings import Meeting
from analytics.models.snapshots import Snapshot
from registry.models.base import AuditedRow, one_of
from registry.models.sites import Site


class PackState(models.TextChoices):
    ASKED = "asked", "Asked for"
    BEING_MADE = "being_made", "Being made"
    READY = "ready", "Ready"
    FAILED = "failed", "Failed"


class Surgeons(models.TextChoices):
    NONE = "none", "No surgeon is shown"
    OWN = "own", "The own point of whoever asked for it"
    ALL = "all", "All surgeons"


class Pack(AuditedRow):
    """One pack: which cohort at which sites, for whom, from which snapshot, and how far it is.

    `address` is the query part of a figures' page, which chooses the cohort. With `for_outside`
    small numbers are suppressed. The snapshot is fixed when the work begins, so that a pack that is
    taken up again comes out the same. `surgeons` says whom its funnels show; those who may not see
    that get the same pack without it.
    """

    archived_alone = False

    meeting = models.ForeignKey(
        Meeting, on_delete=models.PROTECT, related_name="packs", null=True, blank=True
    )
    sites = models.ManyToManyField(Site, through="PackSite", related_name="packs")
    address = models.CharField(max_length=500, blank=True, default="")
    for_outside = models.BooleanField(default=False)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    asked_at = models.DateTimeField()
    snapshot = models.ForeignKey(
        Snapshot, on_delete=models.PROTECT, related_name="packs", null=True, blank=True
    )
    state = models.CharField(max_length=10, choices=PackState.choices, default=PackState.ASKED)
    reason = models.CharField(max_length=400, blank=True, default="")
    surgeons = models.CharField(
        max_length=4,
        choices=Surgeons.choices,
        default=Surgeons.NONE,
        db_default=Surgeons.NONE.value,
    )
    sections_done = models.PositiveSmallIntegerField(default=0)
    sections_all = models.PositiveSmallIntegerField(default=0)
    made_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            one_of("state", PackState, "analytics_pack_state_known"),
            one_of("surgeons", Surgeons, "analytics_pack_surgeons_known"),
            models.CheckConstraint(
                condition=~Q(state="failed") | ~Q(reason=""), name="analytics_pack_failed_says_why"
            ),
            models.CheckConstraint(
                condition=~Q(state="ready") | Q(made_at__isnull=False, snapshot__isnull=False),
                name="analytics_pack_ready_has_snapshot",
            ),
        ]

    def __str__(self) -> str:
        return f"Pack asked for on {self.asked_at:%d %b %Y}"


class PackSite(AuditedRow):
    """One site whose figures are in a pack."""

    archived_alone = False

    pack = models.ForeignKey(Pack, on_delete=models.CASCADE, related_name="places")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["pack", "site"], name="analytics_packsite_once")
        ]

    def __str__(self) -> str:
        return f"{self.pack}, {self.site}"


class FileKind(models.TextChoices):
    PDF = "pdf", "Pages (PDF)"
    TABLES = "tables", "Tables (CSV in a ZIP)"
    # The sections as the page in the browser shows them.
    DOCUMENT = "document", "Sections"
    # The same with the points of surgeons, for those who may see them.
    PDF_NAMED = "pdf_named", "Pages with surgeons (PDF)"
    TABLES_NAMED = "tab_named", "Tables with surgeons (CSV in a ZIP)"
    DOCUMENT_NAMED = "doc_named", "Sections with surgeons"


NAMED = {
    FileKind.PDF: FileKind.PDF_NAMED,
    FileKind.TABLES: FileKind.TABLES_NAMED,
    FileKind.DOCUMENT: FileKind.DOCUMENT_NAMED,
}
DOCUMENTS = (FileKind.DOCUMENT, FileKind.DOCUMENT_NAMED)


class PackFile(models.Model):
    """One file of a pack with its hash; apart, so that lists and the trail do not carry it."""

    archived_alone = False

    pack = models.ForeignKey(Pack, on_delete=models.CASCADE, related_name="files")
    kind = models.CharField(max_length=10, choices=FileKind.choices)
    content = models.BinaryField()
    content_hash = models.CharField(max_length=64)

    class Meta:
        constraints = [
            one_of("kind", FileKind, "analytics_packfile_kind_known"),
            models.UniqueConstraint(fields=["pack", "kind"], name="analytics_packfile_once"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.pack}"
