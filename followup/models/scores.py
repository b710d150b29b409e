"""Completed outcome instruments."""

from django.db import models
from django.db.models import Q

from registry.models.base import ClinicalRow, one_of
from registry.models.injuries import Injury, YesNo


class ScoreMode(models.TextChoices):
    CLINIC = "clinic", "In clinic"
    PHONE = "phone", "By phone"
    REMOTE = "remote", "Patient, remote"
    PROXY = "proxy", "Answered by somebody else"
    UNKNOWN = "unknown", "Unknown"


class Score(ClinicalRow):
    """One completed instrument: its total, or why there is none; item numbers, no wording."""

    injury = models.ForeignKey(Injury, on_delete=models.PROTECT, related_name="scores")
    instrument = models.CharField(max_length=16)
    instrument_version = models.CharField(max_length=16, default="1")
    taken_on = models.DateField()
    value = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    items = models.JSONField(default=dict, blank=True)
    not_computable_reason = models.CharField(max_length=200, blank=True, default="")
    mode = models.CharField(max_length=10, choices=ScoreMode.choices, default=ScoreMode.CLINIC)
    hardware_in_place = models.CharField(
        max_length=10, choices=YesNo.choices, default=YesNo.UNKNOWN
    )
    # The score as a share of the norm for age and sex, and the table (with version) that says so.
    relative_pct = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    relative_to = models.CharField(max_length=60, blank=True, default="")

    class Meta(ClinicalRow.Meta):
        ordering = ["taken_on", "instrument", "id"]
        indexes = [models.Index(fields=["injury", "instrument", "taken_on"])]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("mode", ScoreMode, "followup_score_mode_known"),
            one_of("hardware_in_place", YesNo, "followup_score_hardware_known"),
            models.CheckConstraint(
                condition=Q(value__isnull=False, not_computable_reason="")
                | (Q(value__isnull=True) & ~Q(not_computable_reason="")),
                name="followup_score_value_or_reason",
            ),
            # A patient who answered at home and was asked again in clinic gave two answers.
            models.UniqueConstraint(
                fields=["injury", "instrument", "taken_on", "mode"],
                condition=Q(voided_at__isnull=True),
                name="followup_score_once_a_day_and_mode",
            ),
            models.CheckConstraint(
                condition=Q(relative_pct__isnull=True, relative_to="")
                | (Q(relative_pct__isnull=False) & ~Q(relative_to="")),
                name="followup_score_relative_names_table",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.instrument}, {self.taken_on:%d %b %Y}"
