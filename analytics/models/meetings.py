"""What the quality meeting decided, who does it by when, and what became of it."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from registry.models.base import AuditedRow, one_of
from registry.models.sites import Site


class Meeting(AuditedRow):
    """One quality meeting of one or several sites; it belongs to all of them together."""

    archived_by = ("places__site",)

    held_on = models.DateField()
    sites = models.ManyToManyField(Site, through="MeetingSite", related_name="meetings")
    attended = models.PositiveSmallIntegerField()
    notes = models.TextField(blank=True, default="", max_length=4000)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-held_on", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(attended__gte=1), name="analytics_meeting_somebody_came"
            )
        ]

    def __str__(self) -> str:
        return f"Meeting of {self.held_on:%d %b %Y}"


class MeetingSite(AuditedRow):
    """One site that a meeting was of."""

    meeting = models.ForeignKey(Meeting, on_delete=models.CASCADE, related_name="places")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["meeting", "site"], name="analytics_meetingsite_once")
        ]

    def __str__(self) -> str:
        return f"{self.meeting}, {self.site}"


class DecisionState(models.TextChoices):
    # A decision that asks nobody to do anything.
    STANDS = "stands", "Stands"
    OPEN = "open", "Open"
    DONE = "done", "Done"
    DROPPED = "dropped", "Dropped"


class MeetingDecision(AuditedRow):
    """One decision; with an owner and a day it is an action, which is open until done or dropped.

    `figure` is the address of the view of the figures that it was taken from, path and query; the
    rest says what that figure said then, by which definition, from which snapshot, up to which day.
    """

    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="decisions")
    words = models.CharField(max_length=500)
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    due_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=DecisionState.choices)
    figure = models.CharField(max_length=500, blank=True, default="")
    figure_said = models.TextField(blank=True, default="", max_length=2000)
    figure_definition = models.CharField(max_length=60, blank=True, default="")
    figure_snapshot = models.CharField(max_length=64, blank=True, default="")
    figure_cutoff = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["id"]
        indexes = [
            models.Index(
                fields=["due_on"], condition=Q(state="open"), name="analytics_decision_open"
            )
        ]
        constraints = [
            one_of("state", DecisionState, "analytics_decision_state_known"),
            models.CheckConstraint(
                condition=Q(state="stands", owner__isnull=True, due_on__isnull=True)
                | (~Q(state="stands") & Q(owner__isnull=False, due_on__isnull=False)),
                name="analytics_decision_action_has_owner_and_day",
            ),
        ]

    def __str__(self) -> str:
        return self.words


class StepKind(models.TextChoices):
    TAKEN = "taken", "Decided"
    CHANGED = "changed", "Put to another owner or day"
    DONE = "done", "Done"
    DROPPED = "dropped", "Dropped"
    REOPENED = "reopened", "Opened again"


class DecisionStep(AuditedRow):
    """One thing that became of a decision: when, by whom, in whose words, and due when after it."""

    decision = models.ForeignKey(MeetingDecision, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=10, choices=StepKind.choices)
    on = models.DateField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    words = models.CharField(max_length=300, blank=True, default="")
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    due_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            one_of("kind", StepKind, "analytics_decisionstep_kind_known"),
            models.CheckConstraint(
                condition=Q(kind="taken") | ~Q(words=""),
                name="analytics_decisionstep_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.on:%d %b %Y}"
