"""What a site watches, by which fixed design, and under which written policy of its own."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from registry.models.base import AuditedRow, one_of
from registry.models.sites import Site


class MonitoringPolicy(AuditedRow):
    """A site's own written policy of watching surgeons and running charts; off without one."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="monitoring_policies")
    version = models.PositiveSmallIntegerField()
    text = models.TextField(max_length=8000)
    surgeons = models.BooleanField(default=False)
    charts = models.BooleanField(default=False)
    switched_on_at = models.DateTimeField()
    switched_on_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    ended_because = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        ordering = ["site", "-version"]
        constraints = [
            models.UniqueConstraint(fields=["site", "version"], name="analytics_policy_version"),
            models.UniqueConstraint(
                fields=["site"],
                condition=Q(ended_at__isnull=True),
                name="analytics_policy_one_in_force",
            ),
            models.CheckConstraint(condition=~Q(text=""), name="analytics_policy_is_written"),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_because="", ended_by__isnull=True)
                | (Q(ended_at__isnull=False, ended_by__isnull=False) & ~Q(ended_because="")),
                name="analytics_policy_end_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"policy of {self.site}, version {self.version}"


class Watched(models.TextChoices):
    LOSS = "loss", "Loss of reduction"
    INFECTION = "infection", "Deep infection within 90 days"
    REOPERATION = "reoperation", "Unplanned reoperation"


class ChartDesign(AuditedRow):
    """A running chart as it was fixed before anybody looked; a change of it is another chart.

    `basis` is the expected risk as it was estimated from the baseline period, one rate or a risk
    model, kept so that it never moves (`analytics.answers.risks`). `run_length` is how many cases
    pass on average to a false alarm, as it was asked for; `false_alarm` what the limit gives and
    `delay` how many cases pass until odds that have changed by `odds_ratio` are noticed.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="chart_designs")
    watched = models.CharField(max_length=12, choices=Watched.choices)
    construct_type = models.CharField(max_length=20, blank=True, default="")
    version = models.PositiveSmallIntegerField()
    definition_id = models.SlugField(max_length=40)
    definition_version = models.PositiveSmallIntegerField()
    horizon = models.CharField(max_length=4)
    odds_ratio = models.FloatField()
    run_length = models.PositiveIntegerField()
    limit = models.FloatField()
    false_alarm = models.FloatField()
    delay = models.FloatField()
    baseline_from = models.DateField()
    baseline_to = models.DateField()
    basis = models.JSONField()
    starts_on = models.DateField()
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    answer_days = models.PositiveSmallIntegerField()
    fixed_at = models.DateTimeField()
    fixed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    reason = models.CharField(max_length=300)
    superseded = models.BooleanField(default=False)

    class Meta:
        ordering = ["site", "watched", "construct_type", "-version"]
        constraints = [
            one_of("watched", Watched, "analytics_design_watched_known"),
            models.UniqueConstraint(
                fields=["site", "watched", "construct_type", "version"],
                name="analytics_design_version",
            ),
            models.UniqueConstraint(
                fields=["site", "watched", "construct_type"],
                condition=Q(superseded=False),
                name="analytics_design_one_current",
            ),
            models.CheckConstraint(
                condition=Q(odds_ratio__gt=0) & ~Q(odds_ratio=1), name="analytics_design_odds"
            ),
            models.CheckConstraint(condition=Q(limit__gt=0), name="analytics_design_limit"),
            models.CheckConstraint(
                condition=Q(baseline_to__gte=F("baseline_from"), starts_on__gt=F("baseline_to")),
                name="analytics_design_baseline_before_start",
            ),
        ]

    def __str__(self) -> str:
        of = f", {self.construct_type}" if self.construct_type else ""
        return f"{self.get_watched_display()}{of}, {self.site}"


class ChartCase(AuditedRow):
    """One case as a chart took it in; it keeps its place and its value whatever becomes known later.

    `case_id` is the key of the index procedure, and no link: the chart outlives what it was made of.
    """

    design = models.ForeignKey(ChartDesign, on_delete=models.PROTECT, related_name="cases")
    position = models.PositiveIntegerField()
    case_id = models.BigIntegerField()
    performed_on = models.DateField()
    outcome = models.BooleanField()
    expected = models.FloatField()
    entered_on = models.DateField()

    class Meta:
        ordering = ["design", "position"]
        constraints = [
            models.UniqueConstraint(
                fields=["design", "position"], name="analytics_chartcase_position"
            ),
            models.UniqueConstraint(fields=["design", "case_id"], name="analytics_chartcase_once"),
            models.CheckConstraint(
                condition=Q(expected__gt=0, expected__lt=1), name="analytics_chartcase_risk"
            ),
        ]

    def __str__(self) -> str:
        return f"case {self.position + 1} of {self.design_id}"
