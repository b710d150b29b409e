"""A chart that crossed its limit: whose it is, where it stands, and everything that became of it."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from analytics.models.monitoring import ChartDesign
from registry.models.base import AuditedRow, one_of
from registry.models.sites import Site


class SignalState(models.TextChoices):
    RAISED = "raised", "Raised"
    CHECKS = "checks", "Data being checked"
    REVIEW = "review", "Cases under review"
    FINDING = "finding", "Finding written down"
    ACTION = "action", "Action agreed"
    CLOSED = "closed", "Closed"


class FindingKind(models.TextChoices):
    DATA = "data", "The data: incomplete, late, or recorded wrongly"
    CASE_MIX = "case_mix", "The patients differ from those of the baseline"
    CHANCE = "chance", "Nothing found: chance remains the likeliest"
    PRACTICE = "practice", "Something in care has changed"
    IMPLANT = "implant", "Something about an implant or a technique"
    OTHER = "other", "Something else"


class Signal(AuditedRow):
    """One crossing of one chart's limit at one case; the nightly job opens it once."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="signals")
    design = models.ForeignKey(ChartDesign, on_delete=models.PROTECT, related_name="signals")
    position = models.PositiveIntegerField()
    cases = models.PositiveIntegerField()
    events = models.PositiveIntegerField()
    expected_events = models.FloatField()
    raised_at = models.DateTimeField()
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    due_on = models.DateField()
    state = models.CharField(max_length=10, choices=SignalState.choices, default=SignalState.RAISED)
    finding_kind = models.CharField(
        max_length=10, choices=FindingKind.choices, blank=True, default=""
    )
    finding = models.TextField(max_length=4000, blank=True, default="")
    action = models.TextField(max_length=4000, blank=True, default="")
    closed_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["due_on", "id"]
        indexes = [
            models.Index(
                fields=["site", "due_on"],
                condition=~Q(state="closed"),
                name="analytics_signal_open",
            )
        ]
        constraints = [
            models.UniqueConstraint(fields=["design", "position"], name="analytics_signal_once"),
            one_of("state", SignalState, "analytics_signal_state_known"),
            models.CheckConstraint(
                condition=~Q(state__in=["finding", "action", "closed"])
                | (~Q(finding="") & ~Q(finding_kind="")),
                name="analytics_signal_goes_on_with_a_finding",
            ),
            models.CheckConstraint(
                condition=Q(state="closed", closed_at__isnull=False)
                | (~Q(state="closed") & Q(closed_at__isnull=True)),
                name="analytics_signal_closed_when",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.design}: case {self.position + 1}"


class StepKind(models.TextChoices):
    RAISED = "raised", "Raised by the chart"
    CHECK = "check", "Data looked at"
    REVIEW = "review", "Review of cases begun"
    FINDING = "finding", "Finding written down"
    ACTION = "action", "Action agreed"
    CLOSED = "closed", "Closed"
    REOPENED = "reopened", "Opened again"
    OWNER = "owner", "Given to another owner"
    DUE = "due", "Put off"


class SignalStep(AuditedRow):
    """One step of a signal: what, when, by whom (nobody: the nightly job) and why. Never changed."""

    signal = models.ForeignKey(Signal, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=10, choices=StepKind.choices)
    state = models.CharField(max_length=10, choices=SignalState.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    words = models.TextField(max_length=4000)

    class Meta:
        ordering = ["id"]
        constraints = [
            one_of("kind", StepKind, "analytics_signalstep_kind_known"),
            one_of("state", SignalState, "analytics_signalstep_state_known"),
            models.CheckConstraint(condition=~Q(words=""), name="analytics_signalstep_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.at:%Y-%m-%d}"


class CheckSubject(models.TextChoices):
    COMPLETENESS = "completeness", "Completeness"
    CODING = "coding", "Coding"
    CASE_MIX = "case_mix", "Case mix"


class CheckVerdict(models.TextChoices):
    SOUND = "sound", "Nothing there that could explain it"
    DOUBT = "doubt", "Could explain part of it"
    EXPLAINS = "explains", "Explains it"


class DataCheck(AuditedRow):
    """That a named person looked at the data, with what was found and the numbers then on show.

    With a signal it is one of the three that come before the signal is discussed.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="data_checks")
    signal = models.ForeignKey(
        Signal, on_delete=models.PROTECT, related_name="checks", null=True, blank=True
    )
    subject = models.CharField(max_length=12, choices=CheckSubject.choices)
    verdict = models.CharField(max_length=10, choices=CheckVerdict.choices)
    finding = models.TextField(max_length=2000)
    facts = models.JSONField()
    operated_from = models.DateField(null=True, blank=True)
    operated_to = models.DateField(null=True, blank=True)
    looked_at = models.DateTimeField()
    looked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-id"]
        constraints = [
            one_of("subject", CheckSubject, "analytics_datacheck_subject_known"),
            one_of("verdict", CheckVerdict, "analytics_datacheck_verdict_known"),
            models.CheckConstraint(
                condition=~Q(finding=""), name="analytics_datacheck_says_what_was_found"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_subject_display()}, {self.looked_at:%Y-%m-%d}"
