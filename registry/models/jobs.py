"""What the background did and when, and who holds which job now."""

from datetime import timedelta

from django.db import models
from django.db.models import Q

from registry.models.base import one_of


class JobOutcome(models.TextChoices):
    RUNNING = "running", "Running"
    GOOD = "good", "Done"
    FAILED = "failed", "Failed"
    DIED = "died", "Died"
    # Never stored: what a run answers that found another one at work.
    BUSY = "busy", "Left to the run that is under way"


class JobRun(models.Model):
    """One run of a job: for which day, how long, with what outcome, and what it counted."""

    # Bookkeeping of the machine, not of the service.
    archived = False

    job = models.CharField(max_length=60)
    holder = models.CharField(max_length=40)
    for_day = models.DateField()
    started_at = models.DateTimeField()
    # The last sign of life; a run that is silent for longer than its lease has died.
    beat_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)
    outcome = models.CharField(
        max_length=10, choices=JobOutcome.choices, default=JobOutcome.RUNNING
    )
    steps = models.PositiveIntegerField(default=0)
    counts = models.JSONField(default=dict, blank=True)
    fault = models.CharField(max_length=400, blank=True, default="")

    class Meta:
        ordering = ["-started_at", "-id"]
        indexes = [
            models.Index(fields=["job", "-started_at"], name="registry_jobrun_newest"),
            models.Index(
                fields=["job"],
                condition=Q(outcome="running"),
                name="registry_jobrun_running",
            ),
        ]
        constraints = [
            one_of("outcome", JobOutcome, "registry_jobrun_outcome_known"),
            models.CheckConstraint(
                condition=Q(outcome="running", finished_at__isnull=True)
                | (~Q(outcome="running") & Q(finished_at__isnull=False)),
                name="registry_jobrun_ended_has_outcome",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job} of {self.for_day}: {self.get_outcome_display().lower()}"

    @property
    def took(self) -> timedelta:
        """How long it ran, or has run up to its last sign of life."""
        return (self.finished_at or self.beat_at) - self.started_at


class JobLock(models.Model):
    """Who holds a job now and until when, and its last run, last good run and last fault."""

    archived = False

    job = models.CharField(max_length=60, primary_key=True)
    holder = models.CharField(max_length=40, blank=True, default="")
    until = models.DateTimeField(null=True, blank=True)
    last_run = models.ForeignKey(
        JobRun, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    last_good = models.ForeignKey(
        JobRun, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    last_fault = models.ForeignKey(
        JobRun, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    def __str__(self) -> str:
        return f"{self.job}, held by {self.holder or 'nobody'}"
