"""Unwanted events, graded. A planned removal is not one."""

from django.db import models
from django.db.models import F, Q

from registry.models.base import ClinicalRow, one_of
from registry.models.procedures import Procedure


class ComplicationKind(models.TextChoices):
    INFECTION_SUPERFICIAL = "infection_superficial", "Superficial infection"
    INFECTION_DEEP = "infection_deep", "Deep infection"
    LOSS_OF_FIXATION = "loss_of_fixation", "Loss of fixation"
    IMPLANT_FAILURE = "implant_failure", "Implant failure"
    PERI_IMPLANT_FRACTURE = "peri_implant_fracture", "Peri-implant fracture"
    NONUNION = "nonunion", "Nonunion"
    MALUNION = "malunion", "Malunion"
    SUBACROMIAL_OSTEOLYSIS = "subacromial_osteolysis", "Subacromial osteolysis"
    IMPINGEMENT = "impingement", "Impingement"
    HARDWARE_IRRITATION = "hardware_irritation", "Hardware irritation"
    SKIN_BREAKDOWN = "skin_breakdown", "Skin breakdown"
    NERVE = "nerve", "Nerve injury or numbness"
    STIFFNESS = "stiffness", "Stiffness"
    REFRACTURE = "refracture", "Refracture"
    UNPLANNED_REOPERATION = "unplanned_reoperation", "Unplanned reoperation"
    AC_ARTHROSIS = "ac_arthrosis", "Acromioclavicular arthrosis"
    OTHER = "other", "Other"


class ComplicationGrade(models.TextChoices):
    """By what was done about it (orthopaedic adaptation, Sink 2012); the words are ours."""

    I = "I", "I: no change from routine"  # noqa: E741 - the trade's numeral
    II = "II", "II: treated in clinic"
    III = "III", "III: investigation, readmission or reoperation"
    IVA = "IVa", "IVa: threat to limb or life, no lasting harm"
    IVB = "IVb", "IVb: lasting disability"
    V = "V", "V: death"
    UNKNOWN = "unknown", "Not graded yet"


class Relation(models.TextChoices):
    CONSTRUCT = "construct", "The construct"
    PROCEDURE = "procedure", "The procedure"
    NEITHER = "neither", "Neither"
    UNKNOWN = "unknown", "Unknown"


class Complication(ClinicalRow):
    """One unwanted event after a procedure, with onset, detection, grade and its end."""

    procedure = models.ForeignKey(Procedure, on_delete=models.PROTECT, related_name="complications")
    kind = models.CharField(max_length=24, choices=ComplicationKind.choices)
    onset_earliest = models.DateField(null=True, blank=True)
    onset_latest = models.DateField(null=True, blank=True)
    detected_on = models.DateField()
    grade_scheme = models.CharField(max_length=20, default="orthopaedic-2012")
    grade = models.CharField(
        max_length=8, choices=ComplicationGrade.choices, default=ComplicationGrade.UNKNOWN
    )
    relation = models.CharField(max_length=10, choices=Relation.choices, default=Relation.UNKNOWN)
    action = models.CharField(max_length=300, blank=True, default="")
    resolved_on = models.DateField(null=True, blank=True)

    class Meta(ClinicalRow.Meta):
        ordering = ["detected_on", "id"]
        indexes = [models.Index(fields=["procedure", "kind"])]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("kind", ComplicationKind, "followup_complication_kind_known"),
            one_of("grade", ComplicationGrade, "followup_complication_grade_known"),
            one_of("relation", Relation, "followup_complication_relation_known"),
            models.CheckConstraint(
                condition=Q(onset_earliest__isnull=True, onset_latest__isnull=True)
                | Q(
                    onset_earliest__lte=F("onset_latest"),
                    onset_latest__lte=F("detected_on"),
                ),
                name="followup_complication_onset_before_detection",
            ),
            models.CheckConstraint(
                condition=Q(resolved_on__isnull=True) | Q(resolved_on__gte=F("detected_on")),
                name="followup_complication_resolved_after_detection",
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()
