"""Versioned follow-up schedules: a protocol, its versions, and their steps."""

from django.db import models
from django.db.models import F, Q

from registry.models.base import AuditedRow, ClinicalRow, one_of
from registry.models.constructs import ConstructType
from registry.models.procedures import Procedure
from registry.models.sites import Site


class ProtocolPurpose(models.TextChoices):
    FIXATION = "fixation", "After fixation"
    REMOVAL = "removal", "After implant removal"


class Protocol(AuditedRow):
    """A follow-up schedule of a site and construct type; either may be left open as the default."""

    name = models.CharField(max_length=80)
    purpose = models.CharField(
        max_length=10, choices=ProtocolPurpose.choices, default=ProtocolPurpose.FIXATION
    )
    site = models.ForeignKey(
        Site, on_delete=models.PROTECT, null=True, blank=True, related_name="protocols"
    )
    construct_type = models.ForeignKey(
        ConstructType, on_delete=models.PROTECT, null=True, blank=True, related_name="protocols"
    )

    class Meta:
        ordering = ["name"]
        constraints = [
            one_of("purpose", ProtocolPurpose, "followup_protocol_purpose_known"),
            models.UniqueConstraint(
                fields=["purpose", "site", "construct_type"],
                nulls_distinct=False,
                name="followup_protocol_one_per_scope",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ProtocolVersion(AuditedRow):
    """One version of a protocol, in force from a day. It is never edited: a change is a new one."""

    protocol = models.ForeignKey(Protocol, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    effective_from = models.DateField()
    source_note = models.CharField(max_length=300)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["protocol", "-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["protocol", "number"], name="followup_protocolversion_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.protocol}, version {self.number}"


class OffsetUnit(models.TextChoices):
    DAYS = "days", "Days"
    WEEKS = "weeks", "Weeks"
    MONTHS = "months", "Months"


class FilmSide(models.TextChoices):
    INJURED = "injured", "Injured side"
    OTHER = "other", "Other side"
    BOTH = "both", "Both sides"


class ProtocolStep(AuditedRow):
    """One timepoint: when, how far around it, what is to be collected and reached by then."""

    version = models.ForeignKey(ProtocolVersion, on_delete=models.PROTECT, related_name="steps")
    code = models.SlugField(max_length=12)
    name = models.CharField(max_length=60)
    offset_value = models.PositiveSmallIntegerField()
    offset_unit = models.CharField(max_length=8, choices=OffsetUnit.choices)
    window_before_days = models.PositiveSmallIntegerField()
    window_after_days = models.PositiveSmallIntegerField()
    film_views = models.JSONField(default=list, blank=True)
    # Which side each view is to show; a view that is not named shows the injured one.
    film_sides = models.JSONField(default=dict, blank=True)
    motion = models.BooleanField(default=False)
    scores = models.JSONField(default=list, blank=True)
    wound_check = models.BooleanField(default=False)
    complication_screen = models.BooleanField(default=True)
    # What a service asks for in its own words: {code, words}. See rules/free_items.py.
    free_items = models.JSONField(default=list, blank=True)
    # What motion is allowed or expected at this time. See rules/step_milestones.py.
    milestones = models.JSONField(default=list, blank=True)
    horizon = models.CharField(max_length=4, blank=True, default="")
    source_note = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        ordering = ["version", "id"]
        constraints = [
            models.UniqueConstraint(fields=["version", "code"], name="followup_step_code_once"),
            one_of("offset_unit", OffsetUnit, "followup_step_unit_known"),
            models.CheckConstraint(
                condition=Q(horizon__in=["", "6w", "3m", "6m", "12m", "24m"]),
                name="followup_step_horizon_known",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class VersionMove(ClinicalRow):
    """One operation that was deliberately moved from the version of its protocol to another."""

    procedure = models.ForeignKey(Procedure, on_delete=models.PROTECT, related_name="version_moves")
    from_version = models.ForeignKey(ProtocolVersion, on_delete=models.PROTECT, related_name="+")
    to_version = models.ForeignKey(ProtocolVersion, on_delete=models.PROTECT, related_name="moves")
    reason = models.CharField(max_length=300)

    class Meta(ClinicalRow.Meta):
        ordering = ["id"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            models.CheckConstraint(
                condition=~Q(from_version=F("to_version")),
                name="followup_versionmove_to_another",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="followup_versionmove_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.from_version} to {self.to_version}"
