"""What every clinical row carries: site, who, when, version, void and its reason."""

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q


class LiveManager(models.Manager[Any]):
    """Rows that were not voided; every count starts here."""

    def get_queryset(self) -> models.QuerySet[Any]:
        """Leave out the voided rows."""
        return super().get_queryset().filter(voided_at__isnull=True)


class AuditedRow(models.Model):
    """A row whose every change is written to the audit trail by the database itself."""

    audited = True

    class Meta:
        abstract = True


class ClinicalRow(AuditedRow):
    """A clinical fact of one site. `missing` says why a field is empty; `flags` what was unlikely."""

    site = models.ForeignKey("registry.Site", on_delete=models.PROTECT, related_name="+")
    version = models.PositiveIntegerField(default=1, db_default=1)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    void_reason = models.CharField(max_length=300, blank=True, default="", db_default="")
    missing = models.JSONField(default=dict, blank=True)
    flags = models.JSONField(default=list, blank=True)

    objects = LiveManager()
    everything = models.Manager()

    class Meta:
        abstract = True
        base_manager_name = "everything"
        constraints = [
            models.CheckConstraint(
                condition=Q(voided_at__isnull=True, void_reason="", voided_by__isnull=True)
                | (Q(voided_at__isnull=False, voided_by__isnull=False) & ~Q(void_reason="")),
                name="%(app_label)s_%(class)s_void_has_reason",
            ),
            models.CheckConstraint(
                condition=Q(version__gte=1), name="%(app_label)s_%(class)s_version_from_1"
            ),
            models.CheckConstraint(
                condition=Q(changed_at__gte=F("recorded_at")),
                name="%(app_label)s_%(class)s_changed_after_recorded",
            ),
        ]


def one_of(field: str, choices: type[models.TextChoices], name: str) -> models.CheckConstraint:
    """Hold a coded column to its codes in the database, not only in forms."""
    return models.CheckConstraint(condition=Q(**{f"{field}__in": choices.values}), name=name)
