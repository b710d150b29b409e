"""Whether and when hardware comes out: raised, discussed, planned, deferred, declined, done."""

from django.db import models
from django.db.models import Q

from registry.models.base import ClinicalRow, one_of
from registry.models.procedures import Procedure


class HardwareState(models.TextChoices):
    RAISED = "raised", "Raised"
    DISCUSSED = "discussed", "Discussed"
    PLANNED = "planned", "Removal planned"
    DEFERRED = "deferred", "Deferred"
    DECLINED = "declined", "Declined"
    DONE = "done", "Removed"


class RaisedBecause(models.TextChoices):
    PLANNED_REMOVAL = "planned_removal", "This construct is meant to come out"
    SYMPTOMS = "symptoms", "Symptomatic hardware"
    COMPLICATION = "complication", "A complication"
    CLINICIAN = "clinician", "Raised in clinic"


class HardwareDecision(ClinicalRow):
    """The question whether one procedure's hardware comes out, and where its answer stands."""

    procedure = models.ForeignKey(
        Procedure, on_delete=models.PROTECT, related_name="hardware_decisions"
    )
    raised_because = models.CharField(max_length=16, choices=RaisedBecause.choices)
    raised_on = models.DateField()
    state = models.CharField(
        max_length=10, choices=HardwareState.choices, default=HardwareState.RAISED
    )
    decided_on = models.DateField(null=True, blank=True)
    wish_on = models.DateField(null=True, blank=True)
    deferred_until = models.DateField(null=True, blank=True)
    removal = models.OneToOneField(
        Procedure, on_delete=models.PROTECT, null=True, blank=True, related_name="removal_decision"
    )
    reason = models.CharField(max_length=300, blank=True, default="")

    class Meta(ClinicalRow.Meta):
        ordering = ["raised_on", "id"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("state", HardwareState, "followup_hardware_state_known"),
            one_of("raised_because", RaisedBecause, "followup_hardware_cause_known"),
            models.UniqueConstraint(
                fields=["procedure"],
                condition=Q(
                    state__in=["raised", "discussed", "planned", "deferred"],
                    voided_at__isnull=True,
                ),
                name="followup_hardware_one_open",
            ),
            models.CheckConstraint(
                condition=Q(state=HardwareState.DONE, removal__isnull=False)
                | (~Q(state=HardwareState.DONE) & Q(removal__isnull=True)),
                name="followup_hardware_done_names_removal",
            ),
            models.CheckConstraint(
                condition=Q(state=HardwareState.DEFERRED, deferred_until__isnull=False)
                | (~Q(state=HardwareState.DEFERRED) & Q(deferred_until__isnull=True)),
                name="followup_hardware_deferred_has_day",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["deferred", "declined"]) | ~Q(reason=""),
                name="followup_hardware_refusal_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_state_display()} since {self.raised_on:%d %b %Y}"
