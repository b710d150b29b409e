"""One operation on one injury."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from registry.models.base import ClinicalRow, one_of
from registry.models.injuries import Injury, YesNo


class ProcedureKind(models.TextChoices):
    FIXATION = "fixation", "Fixation"
    REVISION_FIXATION = "revision_fixation", "Revision fixation"
    IMPLANT_REMOVAL = "implant_removal", "Implant removal"
    WASHOUT = "washout", "Debridement or washout"
    OTHER = "other", "Other"


class Grade(models.TextChoices):
    CONSULTANT = "consultant", "Consultant"
    FELLOW = "fellow", "Fellow"
    TRAINEE = "trainee", "Trainee"
    OTHER = "other", "Other"
    NOT_APPLICABLE = "not_applicable", "Nobody"
    UNKNOWN = "unknown", "Unknown"


class PatientPosition(models.TextChoices):
    BEACH_CHAIR = "beach_chair", "Beach chair"
    SUPINE = "supine", "Supine"
    OTHER = "other", "Other"
    UNKNOWN = "unknown", "Unknown"


class Approach(models.TextChoices):
    TRANSVERSE = "transverse", "Transverse, below the lateral clavicle and joint"
    SKIN_LINES = "skin_lines", "Along the skin lines"
    ARTHROSCOPIC = "arthroscopic", "Arthroscopic"
    OTHER = "other", "Other"
    UNKNOWN = "unknown", "Unknown"


class ReductionQuality(models.TextChoices):
    ANATOMICAL = "anatomical", "Anatomical"
    NEAR = "near", "Nearly anatomical"
    POOR = "poor", "Poor"
    UNKNOWN = "unknown", "Unknown"


class Procedure(ClinicalRow):
    """One operation. The index procedure is the one fixation that an injury can have."""

    injury = models.ForeignKey(Injury, on_delete=models.PROTECT, related_name="procedures")
    kind = models.CharField(max_length=20, choices=ProcedureKind.choices)
    performed_on = models.DateField(db_index=True)
    surgeon = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="operations",
        null=True,
        blank=True,
    )
    operator_grade = models.CharField(max_length=16, choices=Grade.choices, default=Grade.UNKNOWN)
    assistant_grade = models.CharField(max_length=16, choices=Grade.choices, default=Grade.UNKNOWN)
    position = models.CharField(
        max_length=16, choices=PatientPosition.choices, default=PatientPosition.UNKNOWN
    )
    approach = models.CharField(max_length=16, choices=Approach.choices, default=Approach.UNKNOWN)
    provisional_fixation = models.CharField(
        max_length=10, choices=YesNo.choices, default=YesNo.UNKNOWN
    )
    reduction_quality = models.CharField(
        max_length=12, choices=ReductionQuality.choices, default=ReductionQuality.UNKNOWN
    )
    intraoperative_film = models.CharField(
        max_length=10, choices=YesNo.choices, default=YesNo.UNKNOWN
    )
    duration_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    revises = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="revised_by"
    )
    planned_removal = models.BooleanField(
        default=False, help_text="An implant removal that was planned from the start."
    )
    note = models.CharField(max_length=300, blank=True, default="")

    class Meta(ClinicalRow.Meta):
        ordering = ["performed_on", "id"]
        indexes = [models.Index(fields=["site", "kind", "performed_on"])]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("kind", ProcedureKind, "registry_procedure_kind_known"),
            one_of("operator_grade", Grade, "registry_procedure_operator_known"),
            one_of("assistant_grade", Grade, "registry_procedure_assistant_known"),
            one_of("position", PatientPosition, "registry_procedure_position_known"),
            one_of("approach", Approach, "registry_procedure_approach_known"),
            one_of("provisional_fixation", YesNo, "registry_procedure_provisional_known"),
            one_of("reduction_quality", ReductionQuality, "registry_procedure_reduction_known"),
            one_of("intraoperative_film", YesNo, "registry_procedure_film_known"),
            models.UniqueConstraint(
                fields=["injury"],
                condition=Q(kind=ProcedureKind.FIXATION, voided_at__isnull=True),
                name="registry_procedure_one_index",
            ),
            models.CheckConstraint(
                condition=~Q(kind=ProcedureKind.FIXATION) | Q(revises__isnull=True),
                name="registry_procedure_index_revises_none",
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=["revision_fixation", "implant_removal"])
                | Q(revises__isnull=False),
                name="registry_procedure_revision_names_revised",
            ),
            models.CheckConstraint(
                condition=Q(planned_removal=False) | Q(kind=ProcedureKind.IMPLANT_REMOVAL),
                name="registry_procedure_planned_is_removal",
            ),
            models.CheckConstraint(
                condition=Q(duration_minutes__isnull=True)
                | Q(duration_minutes__gte=5, duration_minutes__lte=900),
                name="registry_procedure_duration_possible",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.performed_on:%d %b %Y}"

    @property
    def is_index(self) -> bool:
        return self.kind == ProcedureKind.FIXATION

    @property
    def days_from_injury(self) -> tuple[int, int]:
        """Fewest and most days since the injury; equal when its date is exact."""
        latest, earliest = self.injury.injured_latest, self.injury.injured_earliest
        return (max(0, (self.performed_on - latest).days), (self.performed_on - earliest).days)
