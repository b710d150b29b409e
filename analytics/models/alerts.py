"""A reduction that may be lost: whose case, which film said so, and what was planned about it."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from registry.models.base import AuditedRow, one_of
from registry.models.sites import Site


class AlertLevel(models.TextChoices):
    LOST = "lost", "Lost"
    NEAR = "near", "Within measurement error of being lost"


class AlertState(models.TextChoices):
    OPEN = "open", "Open"
    PLANNED = "planned", "Planned"
    TAKEN_BACK = "taken_back", "No longer so"


class AlertPlan(models.TextChoices):
    OBSERVE = "observe", "Observe: another film by then"
    IMAGING = "imaging", "Further imaging"
    DISCUSS = "discuss", "Discuss at the meeting"
    REVISE = "revise", "Revise"


class LossAlert(AuditedRow):
    """That a case was lost, or near it, by one version of its site's definition.

    Of one case, definition version and level one alert stands, until it is taken back. Who operated
    is whom it is for; where they have left it is for every surgeon of the site. `measure`, `error`
    and `threshold` are those of the moment it was raised, in the unit of the threshold.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="loss_alerts")
    procedure = models.ForeignKey(
        "registry.Procedure", on_delete=models.PROTECT, related_name="loss_alerts"
    )
    surgeon = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    definition_id = models.SlugField(max_length=40)
    definition_version = models.PositiveSmallIntegerField()
    level = models.CharField(max_length=4, choices=AlertLevel.choices)
    film = models.ForeignKey("followup.Film", on_delete=models.PROTECT, related_name="+")
    measure = models.FloatField(null=True, blank=True)
    error = models.FloatField(null=True, blank=True)
    threshold = models.FloatField()
    raised_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=AlertState.choices, default=AlertState.OPEN)
    plan = models.CharField(max_length=8, choices=AlertPlan.choices, blank=True, default="")
    due_on = models.DateField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_because = models.CharField(max_length=400, blank=True, default="")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["raised_at", "id"]
        indexes = [
            models.Index(
                fields=["site", "raised_at"],
                condition=Q(state="open"),
                name="analytics_lossalert_open",
            )
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["procedure", "definition_id", "definition_version", "level"],
                condition=~Q(state="taken_back"),
                name="analytics_lossalert_once",
            ),
            one_of("level", AlertLevel, "analytics_lossalert_level_known"),
            one_of("state", AlertState, "analytics_lossalert_state_known"),
            models.CheckConstraint(
                condition=Q(plan="", due_on__isnull=True)
                | (Q(plan__in=AlertPlan.values) & Q(due_on__isnull=False)),
                name="analytics_lossalert_plan_has_a_day",
            ),
            models.CheckConstraint(
                condition=~Q(state="planned") | ~Q(plan=""),
                name="analytics_lossalert_planned_says_what",
            ),
            models.CheckConstraint(
                condition=Q(state="taken_back", closed_at__isnull=False) & ~Q(closed_because="")
                | (~Q(state="taken_back") & Q(closed_at__isnull=True, closed_because="")),
                name="analytics_lossalert_taken_back_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_level_display()}: case {self.procedure_id}"


class AlertStepKind(models.TextChoices):
    RAISED = "raised", "Raised by a reading"
    PLANNED = "planned", "Acknowledged with a plan"
    TAKEN_BACK = "taken_back", "No longer so"


class LossAlertStep(AuditedRow):
    """One step of an alert: what, when, by whom (nobody: the service itself) and why. Never changed."""

    alert = models.ForeignKey(LossAlert, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=10, choices=AlertStepKind.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    words = models.CharField(max_length=500)

    class Meta:
        ordering = ["id"]
        constraints = [
            one_of("kind", AlertStepKind, "analytics_lossalertstep_kind_known"),
            models.CheckConstraint(condition=~Q(words=""), name="analytics_lossalertstep_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.at:%Y-%m-%d}"


class CaseToWeigh(models.Model):
    """That something about an injury's films changed, written with the change; weighing removes it."""

    injury = models.ForeignKey("registry.Injury", on_delete=models.CASCADE, related_name="+")
    marked_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "cases to weigh"

    def __str__(self) -> str:
        return f"injury {self.injury_id}, {self.marked_at:%Y-%m-%d %H:%M}"
