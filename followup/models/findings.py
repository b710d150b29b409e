"""What a reader found on a film kind by kind, and a site's own rule of union."""

from django.db import models
from django.db.models import Q

from followup.models.films import Reading
from followup.rules import findings, union
from followup.rules.findings import Found
from registry.models.base import AuditedRow, ClinicalRow, one_of
from registry.models.sites import Site

GRADED = sorted(code for code, kind in findings.KINDS.items() if kind.grades)


class FindingKind(models.TextChoices):
    SCREW_LOOSENED = "screw_loosened", "Screw loosened"
    SCREW_BACKED_OUT = "screw_backed_out", "Screw backed out"
    SCREW_BROKEN = "screw_broken", "Screw broken"
    PLATE_LIFTED = "plate_lifted", "Plate lifted off the bone"
    PLATE_BROKEN = "plate_broken", "Plate broken"
    HOOK_MIGRATED = "hook_migrated", "Hook migrated"
    ANCHOR_MOVED = "anchor_moved", "Anchor or button moved"
    ACROMIAL_EROSION = "acromial_erosion", "Erosion of the acromion"
    TUNNEL_WIDENED = "tunnel_widened", "Coracoid tunnel widened"
    CORACOID_FRACTURE = "coracoid_fracture", "Coracoid fractured"
    OSSIFICATION = "ossification", "Coracoclavicular ligaments ossified"
    AC_DEGENERATION = "ac_degeneration", "Degeneration of the AC joint"


class FindingState(models.TextChoices):
    ABSENT = findings.ABSENT, "Looked for and not there"
    PRESENT = findings.PRESENT, "There"
    NOT_ASSESSABLE = findings.NOT_ASSESSABLE, "Cannot be judged"
    NOT_APPLICABLE = findings.NOT_APPLICABLE, "Not applicable"


class ReadingFinding(ClinicalRow):
    """One kind of finding in one reading; what was not looked for has no row.

    It is part of its reading and never changed: a reading that supersedes has its own.
    """

    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="findings")
    kind = models.CharField(max_length=20, choices=FindingKind.choices)
    state = models.CharField(max_length=16, choices=FindingState.choices)
    grade = models.PositiveSmallIntegerField(null=True, blank=True)
    place = models.CharField(max_length=16, blank=True, default="")

    class Meta(ClinicalRow.Meta):
        ordering = ["reading", "id"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("kind", FindingKind, "followup_readingfinding_kind_known"),
            one_of("state", FindingState, "followup_readingfinding_state_known"),
            models.UniqueConstraint(
                fields=["reading", "kind"],
                condition=Q(voided_at__isnull=True),
                name="followup_readingfinding_once",
            ),
            models.CheckConstraint(
                condition=Q(state=findings.PRESENT) | Q(grade__isnull=True, place=""),
                name="followup_readingfinding_absent_is_plain",
            ),
            models.CheckConstraint(
                condition=Q(grade__isnull=True, state=findings.PRESENT) & ~Q(kind__in=GRADED)
                | Q(grade__isnull=False, grade__in=findings.GRADES, kind__in=GRADED)
                | ~Q(state=findings.PRESENT),
                name="followup_readingfinding_graded",
            ),
            models.CheckConstraint(
                condition=Q(place__in=["", *findings.PLACES]),
                name="followup_readingfinding_place_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.get_state_display().lower()}"

    @property
    def found(self) -> Found:
        """The finding as the rules take it."""
        return Found(self.kind, self.state, self.grade, self.place)


class UnionRule(AuditedRow):
    """How many of four cortices have to be bridged at a site before its rule says united."""

    site = models.OneToOneField(Site, on_delete=models.PROTECT, related_name="union_rule")
    min_bridged_cortices = models.PositiveSmallIntegerField(default=union.SHIPPED_MIN)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(min_bridged_cortices__gte=1, min_bridged_cortices__lte=union.CORTICES),
                name="followup_unionrule_possible",
            ),
        ]

    def __str__(self) -> str:
        return f"The rule of union at {self.site}"
