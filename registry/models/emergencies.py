"""Access to a patient of another site in an emergency: who, whom, why, until when, and what came of it."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from registry.models.base import AuditedRow
from registry.models.patients import Patient
from registry.models.sites import Site


class EmergencyAccess(AuditedRow):
    """One person reads one patient's rows of one site, where they hold no role, for a limited time.

    What was opened meanwhile is in the trail, under the number of this row. Somebody of the site looks
    at it by `look_by` and says what they found.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="emergencies")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=300)
    opened_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    look_by = models.DateField()
    finding = models.CharField(max_length=300, blank=True, default="")
    looked_at = models.DateTimeField(null=True, blank=True)
    looked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    class Meta:
        ordering = ["-opened_at", "-id"]
        verbose_name = "emergency access"
        verbose_name_plural = "emergency accesses"
        indexes = [
            models.Index(fields=["person", "ends_at"], name="registry_emergency_open"),
            models.Index(fields=["site", "-opened_at"], name="registry_emergency_site"),
        ]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="registry_emergency_has_reason"),
            models.CheckConstraint(
                condition=Q(ends_at__gte=F("opened_at")), name="registry_emergency_ends_after_start"
            ),
            models.CheckConstraint(
                condition=Q(looked_at__isnull=True, looked_by__isnull=True, finding="")
                | (Q(looked_at__isnull=False, looked_by__isnull=False) & ~Q(finding="")),
                name="registry_emergency_looked_at_with_a_finding",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person} opened {self.patient} at {self.opened_at:%d %b %Y %H:%M}"
