"""What was entered on the wrong patient or side, moved to where it belongs; can be undone exactly."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from registry.models.base import AuditedRow, one_of
from registry.models.injuries import Injury
from registry.models.patients import Patient
from registry.models.procedures import Procedure


class MoveKind(models.TextChoices):
    PATIENT = "patient", "To another patient"
    SIDE = "side", "To the other side"
    OPERATION = "operation", "Operation to another injury"


class RecordMove(AuditedRow):
    """What was entered in the wrong place and moved: an injury with everything on it, or an operation.

    An injury goes to another patient, or is said to be of the other side; an operation goes from
    `injury` to `to_injury`. `moved` names the rows that went along by table, and holds what they were,
    for undoing.
    """

    kind = models.CharField(max_length=10, choices=MoveKind.choices)
    injury = models.ForeignKey(Injury, on_delete=models.PROTECT, related_name="moves")
    procedure = models.ForeignKey(
        Procedure, on_delete=models.PROTECT, related_name="moves", null=True, blank=True
    )
    to_injury = models.ForeignKey(
        Injury, on_delete=models.PROTECT, related_name="moves_of_operations", null=True, blank=True
    )
    from_patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="moves_away")
    to_patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="moves_here")
    moved_at = models.DateTimeField()
    moved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    reason = models.CharField(max_length=300)
    moved = models.JSONField(default=dict)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    class Meta:
        ordering = ["-moved_at", "-id"]
        constraints = [
            one_of("kind", MoveKind, "registry_recordmove_kind_known"),
            models.CheckConstraint(condition=~Q(reason=""), name="registry_recordmove_has_reason"),
            models.CheckConstraint(
                condition=Q(undone_at__isnull=True, undone_by__isnull=True)
                | Q(undone_at__isnull=False, undone_by__isnull=False),
                name="registry_recordmove_undone_by_somebody",
            ),
            models.CheckConstraint(
                condition=(Q(kind="patient", to_injury=None) & ~Q(from_patient=F("to_patient")))
                | Q(kind="side", to_injury=None, from_patient=F("to_patient"))
                | (Q(kind="operation", to_injury__isnull=False) & ~Q(injury=F("to_injury"))),
                name="registry_recordmove_says_where",
            ),
            models.CheckConstraint(
                condition=Q(kind="operation", procedure__isnull=False)
                | (~Q(kind="operation") & Q(procedure__isnull=True)),
                name="registry_recordmove_names_operation",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what}: {self.get_kind_display().lower()}"

    @property
    def what(self) -> Injury | Procedure:
        """What was moved."""
        return self.injury if self.procedure is None else self.procedure
