"""E-mails to surgeons about reductions that may be lost: each alert is told to each person once."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q

from analytics.models.alerts import LossAlert
from registry.models.base import AuditedRow, one_of
from registry.models.sites import Site


class MailKind(models.TextChoices):
    NOTICE = "notice", "One that is lost"
    DIGEST = "digest", "The alerts of a day"


class MailState(models.TextChoices):
    WAITING = "waiting", "Waiting"
    SENDING = "sending", "Being sent"
    SENT = "sent", "Sent"
    STOPPED = "stopped", "Stopped"
    FAILED = "failed", "Failed"
    UNKNOWN = "unknown", "Not known whether it went"


class MailChoice(models.TextChoices):
    EACH = "each", "At once when one is lost, the others once a day"
    DIGEST = "digest", "Once a day"
    NONE = "none", "Never: I look at the list"


class AlertMailChoice(AuditedRow):
    """How often a person wants to be told of alerts by e-mail; the list in the service stays."""

    archived_by = ("person__memberships__site",)

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="alert_mail_choice"
    )
    choice = models.CharField(max_length=6, choices=MailChoice.choices, default=MailChoice.EACH)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [one_of("choice", MailChoice, "analytics_alertmailchoice_known")]

    def __str__(self) -> str:
        return f"{self.person}: {self.get_choice_display().lower()}"


class AlertMail(AuditedRow):
    """One e-mail to one person. `key` names its reason, for which it is written once.

    Its text is made when it goes, from the alerts that are open by then, and names no patient. A worker
    holds it by `claim`, since `claimed_at`; `handed_at` is set right before it is handed over, so that
    nobody has to guess what a worker that died had done.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="alert_mails"
    )
    kind = models.CharField(max_length=6, choices=MailKind.choices)
    key = models.CharField(max_length=80)
    uuid = models.UUIDField(default=uuid.uuid4, editable=False, unique=True)
    state = models.CharField(max_length=8, choices=MailState.choices, default=MailState.WAITING)
    wanted_at = models.DateTimeField()
    claim = models.UUIDField(null=True, blank=True, editable=False)
    claimed_at = models.DateTimeField(null=True, blank=True)
    handed_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    because = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ["wanted_at", "id"]
        indexes = [models.Index(fields=["state", "wanted_at"])]
        constraints = [
            one_of("kind", MailKind, "analytics_alertmail_kind_known"),
            one_of("state", MailState, "analytics_alertmail_state_known"),
            models.UniqueConstraint(fields=["key"], name="analytics_alertmail_key_once"),
            models.CheckConstraint(
                condition=~Q(state="sent") | Q(sent_at__isnull=False),
                name="analytics_alertmail_sent_has_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.get_state_display().lower()}"


class AlertTold(AuditedRow):
    """That an alert is told to a person, by which e-mail; of one alert and person there is one."""

    mail = models.ForeignKey(AlertMail, on_delete=models.PROTECT, related_name="told")
    alert = models.ForeignKey(LossAlert, on_delete=models.PROTECT, related_name="told")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "alerts told"
        constraints = [
            models.UniqueConstraint(fields=["alert", "person"], name="analytics_alerttold_once")
        ]

    def __str__(self) -> str:
        return f"alert {self.alert_id} to {self.person_id}"
