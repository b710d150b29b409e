"""What comes back from patients: every answer to a message, and what became of it."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from registry.models.base import one_of
from registry.models.patients import Patient
from registry.models.sites import Site


class ReplyMeans(models.TextChoices):
    TEXT = "text", "Text message"
    EMAIL = "email", "E-mail"


class ReplyFate(models.TextChoices):
    STOPPED = "stopped", "Ended these messages"
    TASK = "task", "A task is open"
    WAITING = "waiting", "Waits for a person"
    SEEN = "seen", "Seen to"


class Reply(models.Model):
    """One incoming message. Its provider's `key` is taken once at a site; it is never deleted.

    Number and text name somebody, so that they are not in the trail, and go when a patient is erased.
    `patients` are those of the site whose number it came from: none, one, or several.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="replies")
    key = models.CharField(max_length=120)
    means = models.CharField(max_length=5, choices=ReplyMeans.choices)
    sender = models.CharField(max_length=254, blank=True, default="")
    text = models.TextField(max_length=4000, blank=True, default="")
    received_at = models.DateTimeField()
    taken_at = models.DateTimeField()
    patients = models.ManyToManyField(Patient, related_name="replies", blank=True)
    fate = models.CharField(max_length=8, choices=ReplyFate.choices, default=ReplyFate.WAITING)
    because = models.CharField(max_length=300, blank=True, default="")
    seen_at = models.DateTimeField(null=True, blank=True)
    seen_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    seen_note = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        verbose_name_plural = "replies"
        ordering = ["-received_at", "-id"]
        indexes = [
            models.Index(
                fields=["site"], condition=Q(fate="waiting"), name="followup_reply_waiting"
            )
        ]
        constraints = [
            one_of("means", ReplyMeans, "followup_reply_means_known"),
            one_of("fate", ReplyFate, "followup_reply_fate_known"),
            models.UniqueConstraint(fields=["site", "key"], name="followup_reply_once"),
            models.CheckConstraint(
                condition=~Q(fate="seen") | (Q(seen_at__isnull=False) & ~Q(seen_note="")),
                name="followup_reply_seen_says_how",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_means_display()} of {self.received_at:%d %b %Y %H:%M}"
