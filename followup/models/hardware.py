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
    # Nobody has decided since this day: it was raised, came back, or was last spoken of.
    waiting_since = models.DateField()
    decided_on = models.DateField(null=True, blank=True)
    # The day of the first answer: planned, declined, or removed without either.
    first_decided_on = models.DateField(null=True, blank=True)
    wish_on = models.DateField(null=True, blank=True)
    deferred_until = models.DateField(null=True, blank=True)
    removal = models.OneToOneField(
        Procedure, on_delete=models.PROTECT, null=True, blank=True, related_name="removal_decision"
    )
    reason = models.CharField(max_length=300, blank=True, default="")

    class Meta(ClinicalRow.Meta):
        ordering = ["raised_on", "id"]
        indexes = [models.Index(fields=["site", "state"], name="followup_hardware_by_state")]
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


class StepKind(models.TextChoices):
    RAISED = "raised", "Raised"
    TOLD = "told", "More was found"
    DISCUSSED = "discussed", "Discussed"
    PLANNED = "planned", "Removal planned"
    DEFERRED = "deferred", "Deferred"
    CAME_BACK = "came_back", "Came back on its day"
    DECLINED = "declined", "Declined"
    ASKED_AGAIN = "asked_again", "Asked again"
    DONE = "done", "Removed"


class SymptomSource(models.TextChoices):
    """Who or what said that hardware makes trouble."""

    FILM = "film", "A film"
    COMPLICATION = "complication", "A complication"
    PATIENT = "patient", "The patient's answer"
    CLINICIAN = "clinician", "A clinician"


class HardwareStep(ClinicalRow):
    """One step of a hardware decision as it was taken. Steps are added and never changed.

    Who took it is `recorded_by`. `fact` names what was found, so that one finding asks once.
    """

    decision = models.ForeignKey(HardwareDecision, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=12, choices=StepKind.choices)
    on = models.DateField()
    wish_on = models.DateField(null=True, blank=True)
    deferred_until = models.DateField(null=True, blank=True)
    source = models.CharField(max_length=12, choices=SymptomSource.choices, blank=True, default="")
    fact = models.CharField(max_length=160, blank=True, default="")
    words = models.CharField(max_length=300, blank=True, default="")

    class Meta(ClinicalRow.Meta):
        ordering = ["id"]
        indexes = [models.Index(fields=["decision", "kind"], name="followup_hardwarestep_kind")]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("kind", StepKind, "followup_hardwarestep_kind_known"),
            models.CheckConstraint(
                condition=Q(source__in=["", *SymptomSource.values]),
                name="followup_hardwarestep_source_known",
            ),
            models.UniqueConstraint(
                fields=["decision", "fact"],
                condition=~Q(fact="") & Q(voided_at__isnull=True),
                name="followup_hardwarestep_fact_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.on:%d %b %Y}"
