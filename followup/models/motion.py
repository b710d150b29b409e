"""Range of motion of one side."""

from django.db import models
from django.db.models import Q

from registry.models.base import ClinicalRow, one_of
from registry.models.injuries import Injury, Side


class MotionMode(models.TextChoices):
    ACTIVE = "active", "Active"
    PASSIVE = "passive", "Passive"


class InternalRotation(models.TextChoices):
    """The highest landmark that the thumb reaches: ordered, never averaged as an angle."""

    THIGH = "thigh", "Thigh"
    BUTTOCK = "buttock", "Buttock"
    LS = "ls", "Lumbosacral junction"
    L3 = "l3", "L3"
    T12 = "t12", "T12"
    T7 = "t7", "T7, between the shoulder blades"


class MotionExam(ClinicalRow):
    """Motion of one side, active or passive, on one day; whole degrees."""

    injury = models.ForeignKey(Injury, on_delete=models.PROTECT, related_name="motion_exams")
    examined_on = models.DateField()
    side = models.CharField(max_length=8, choices=Side.choices)
    mode = models.CharField(max_length=8, choices=MotionMode.choices, default=MotionMode.ACTIVE)
    flexion_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    abduction_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    external_rotation_deg = models.SmallIntegerField(null=True, blank=True)
    internal_rotation = models.CharField(
        max_length=8, choices=InternalRotation.choices, blank=True, default=""
    )

    class Meta(ClinicalRow.Meta):
        ordering = ["examined_on", "id"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("side", Side, "followup_motion_side_known"),
            one_of("mode", MotionMode, "followup_motion_mode_known"),
            models.UniqueConstraint(
                fields=["injury", "examined_on", "side", "mode"],
                condition=Q(voided_at__isnull=True),
                name="followup_motion_once_a_day",
            ),
            models.CheckConstraint(
                condition=(Q(flexion_deg__isnull=True) | Q(flexion_deg__lte=190))
                & (Q(abduction_deg__isnull=True) | Q(abduction_deg__lte=190))
                & (
                    Q(external_rotation_deg__isnull=True)
                    | Q(external_rotation_deg__gte=-60, external_rotation_deg__lte=120)
                ),
                name="followup_motion_possible",
            ),
            models.CheckConstraint(
                condition=Q(internal_rotation__in=["", *InternalRotation.values]),
                name="followup_motion_rotation_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_side_display()} {self.get_mode_display().lower()}, {self.examined_on}"
