"""Projects of research that take extracts, and the secret of each, which is kept apart."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from registry.models.base import AuditedRow, one_of
from registry.models.sites import Site


class DateHandling(models.TextChoices):
    SHIFTED = "shifted", "Whole days, moved back by a secret number of days for each patient"
    MONTH = "month", "The month alone"
    QUARTER = "quarter", "The quarter alone"


class AgeHandling(models.TextChoices):
    YEARS = "years", "Whole years; 90 stands for 90 and more"
    BANDS = "bands", "Ten years together; 90 and more are one"


class ResearchProject(AuditedRow):
    """What a project may take, of which sites and between which days; approved as it stands, never changed.

    `columns` are 'table.column' of the data set's dictionary. Extracts are made from `starts_on` until
    `ends_on`, or until the project was closed.
    """

    archived_alone = False

    name = models.CharField(max_length=120)
    purpose = models.CharField(max_length=1000)
    approval = models.CharField(max_length=200)
    starts_on = models.DateField()
    ends_on = models.DateField()
    sites = models.ManyToManyField(Site, through="ResearchSite", related_name="research")
    columns = models.JSONField()
    dates = models.CharField(max_length=8, choices=DateHandling.choices)
    ages = models.CharField(max_length=8, choices=AgeHandling.choices)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    closed_because = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        ordering = ["-id"]
        constraints = [
            one_of("dates", DateHandling, "analytics_research_dates_known"),
            one_of("ages", AgeHandling, "analytics_research_ages_known"),
            models.CheckConstraint(
                condition=Q(ends_on__gte=F("starts_on")), name="analytics_research_ends_after_start"
            ),
            models.CheckConstraint(
                condition=~Q(approval="") & ~Q(purpose="") & ~Q(name=""),
                name="analytics_research_says_what_for",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True, closed_by__isnull=True, closed_because="")
                | (Q(closed_at__isnull=False, closed_by__isnull=False) & ~Q(closed_because="")),
                name="analytics_research_closed_says_why",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ResearchSite(AuditedRow):
    """One site whose patients a project is about."""

    archived_alone = False

    project = models.ForeignKey(ResearchProject, on_delete=models.CASCADE, related_name="places")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["project", "site"], name="analytics_researchsite_once")
        ]

    def __str__(self) -> str:
        return f"{self.project}, {self.site}"


class ResearchKey(models.Model):
    """The secret from which a project's pseudonyms and days come, encrypted.

    No page, file or interface shows it, neither the trail nor an archive has it.
    """

    archived = False

    project = models.OneToOneField(ResearchProject, on_delete=models.CASCADE, related_name="key")
    kept = models.CharField(max_length=400)

    def __str__(self) -> str:
        return f"Key of project {self.project_id}"


class ResearchExtract(AuditedRow):
    """One extract that was taken: by whom, when, from which snapshot, as which file. It holds no row."""

    archived_alone = False

    project = models.ForeignKey(ResearchProject, on_delete=models.PROTECT, related_name="extracts")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    snapshot_hash = models.CharField(max_length=64)
    content_hash = models.CharField(max_length=64)
    patients = models.PositiveIntegerField()
    left_out = models.CharField(max_length=40)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.project}, {self.at:%d %b %Y}"
