"""The outbox: what is to be sent to a patient, once."""

import uuid

from django.db import models
from django.db.models import Q

from followup.models.reviews import Appointment, Review
from registry.models.base import AuditedRow, one_of
from registry.models.patients import Patient
from registry.models.sites import Site


class MessageState(models.TextChoices):
    WAITING = "waiting", "Waiting"
    SENDING = "sending", "Being sent"
    SENT = "sent", "Sent"
    STOPPED = "stopped", "Stopped"
    FAILED = "failed", "Failed"


class MessagePurpose(models.TextChoices):
    APPOINTMENT_BOOKED = "appointment_booked", "Appointment booked"
    APPOINTMENT_CANCELLED = "appointment_cancelled", "Appointment cancelled"
    REMINDER = "reminder", "Reminder of a review"
    QUESTIONNAIRE = "questionnaire", "Questionnaire"


class Message(AuditedRow):
    """One message to one patient. Text is made when it goes, from what is true then.

    `key` names its reason, for which it is written once; `number` says which reminder it is, from 0.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="messages")
    key = models.CharField(max_length=120)
    # By which a carrier knows a message that it has had already.
    uuid = models.UUIDField(default=uuid.uuid4, editable=False)
    review = models.ForeignKey(
        Review, on_delete=models.PROTECT, null=True, blank=True, related_name="messages"
    )
    appointment = models.ForeignKey(
        Appointment, on_delete=models.PROTECT, null=True, blank=True, related_name="messages"
    )
    number = models.PositiveSmallIntegerField(default=0)
    purpose = models.CharField(max_length=24, choices=MessagePurpose.choices)
    means = models.CharField(max_length=10, default="email")
    state = models.CharField(
        max_length=10, choices=MessageState.choices, default=MessageState.WAITING
    )
    wanted_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    stopped_because = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ["wanted_at", "id"]
        indexes = [models.Index(fields=["state", "wanted_at"])]
        constraints = [
            one_of("state", MessageState, "followup_message_state_known"),
            one_of("purpose", MessagePurpose, "followup_message_purpose_known"),
            models.UniqueConstraint(fields=["key"], name="followup_message_key_once"),
            models.UniqueConstraint(fields=["uuid"], name="followup_message_uuid_once"),
            models.CheckConstraint(
                condition=Q(appointment__isnull=False)
                | ~Q(purpose__in=["appointment_booked", "appointment_cancelled"]),
                name="followup_message_slot_named",
            ),
            models.CheckConstraint(
                condition=~Q(state=MessageState.SENT) | Q(sent_at__isnull=False),
                name="followup_message_sent_has_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_purpose_display()}: {self.get_state_display().lower()}"
