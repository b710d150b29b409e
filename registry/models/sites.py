"""Places, and who works there in which role."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from registry.models.base import AuditedRow, one_of


class Site(AuditedRow):
    """A hospital or clinic that treats and follows patients."""

    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=120, unique=True)
    time_zone = models.CharField(max_length=60, default="Europe/London")
    # What patients are told to ring, by every message and on every page that they see.
    telephone = models.CharField(max_length=80, blank=True, default="", db_default="")
    holiday_country = models.CharField(max_length=2, blank=True, default="")
    holiday_subdivision = models.CharField(max_length=10, blank=True, default="")
    min_at_risk = models.PositiveSmallIntegerField(default=5)
    is_active = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(min_at_risk__gte=1), name="registry_site_min_at_risk_from_1"
            )
        ]

    def __str__(self) -> str:
        return self.name


class Role(models.TextChoices):
    COORDINATOR = "coordinator", "Coordinator"
    SURGEON = "surgeon", "Surgeon"
    FILM_READER = "film_reader", "Film reader"
    QUALITY_LEAD = "quality_lead", "Quality lead"
    ADMINISTRATOR = "administrator", "Administrator"


class Membership(AuditedRow):
    """One role of one person at one site, from a day and possibly until a day."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="memberships"
    )
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=20, choices=Role.choices)
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["site", "role", "person"]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "site", "role"],
                condition=Q(ends_on__isnull=True),
                name="registry_membership_once",
            ),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("starts_on")),
                name="registry_membership_ends_after_start",
            ),
            one_of("role", Role, "registry_membership_role_known"),
        ]

    def __str__(self) -> str:
        return f"{self.person} as {self.get_role_display().lower()} at {self.site}"
