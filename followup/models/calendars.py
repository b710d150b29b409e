"""Clinics and their days; days on which a site is closed."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from registry.models.base import AuditedRow
from registry.models.sites import Site


class Clinic(AuditedRow):
    """A clinic of a site on one weekday (0 = Monday), with its slots and its surgeon."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="clinics")
    name = models.CharField(max_length=80)
    weekday = models.PositiveSmallIntegerField()
    starts_at = models.TimeField()
    slots = models.PositiveSmallIntegerField()
    slot_minutes = models.PositiveSmallIntegerField(default=10)
    # What the hospital's system calls it; a slot at any other place is not for this service.
    hospital_code = models.CharField(max_length=60, blank=True, default="", db_default="")
    surgeon = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="clinics",
    )
    is_active = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["site", "weekday", "starts_at"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name"], name="followup_clinic_name_once"),
            models.UniqueConstraint(
                fields=["site", "hospital_code"],
                condition=~Q(hospital_code=""),
                name="followup_clinic_hospital_code_once",
            ),
            models.CheckConstraint(condition=Q(weekday__lte=6), name="followup_clinic_weekday"),
            models.CheckConstraint(
                condition=Q(slots__gte=1, slots__lte=200), name="followup_clinic_slots"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ClosedDay(AuditedRow):
    """A day on which no clinic of the site is held."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="closed_days")
    on = models.DateField()
    reason = models.CharField(max_length=120)
    # Filled in ahead by itself, and taken away when the site names another country or part.
    is_public_holiday = models.BooleanField(default=False, db_default=False)

    class Meta:
        ordering = ["on"]
        constraints = [
            models.UniqueConstraint(fields=["site", "on"], name="followup_closedday_once")
        ]

    def __str__(self) -> str:
        return f"{self.on:%d %b %Y}: {self.reason}"


class HeldDay(AuditedRow):
    """A public holiday on which a site holds its clinic all the same."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="held_days")
    on = models.DateField()
    holiday = models.CharField(max_length=120)

    class Meta:
        ordering = ["on"]
        constraints = [models.UniqueConstraint(fields=["site", "on"], name="followup_heldday_once")]

    def __str__(self) -> str:
        return f"{self.on:%d %b %Y}: held on {self.holiday}"
