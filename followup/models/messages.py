"""The outbox: what is to be sent to a patient, once."""

import uuid
from datetime import time

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from followup.models.questionnaires import Invitation
from followup.models.reviews import Appointment, Review
from followup.rules.replies import STOP_WORDS
from registry.models.base import AuditedRow, one_of
from registry.models.patients import Patient
from registry.models.sites import Site


class MessageState(models.TextChoices):
    WAITING = "waiting", "Waiting"
    SENDING = "sending", "Being sent"
    SENT = "sent", "Sent"
    STOPPED = "stopped", "Stopped"
    FAILED = "failed", "Failed"
    UNKNOWN = "unknown", "Not known whether it went"


# What a person has to look at.
PARKED = (MessageState.FAILED, MessageState.UNKNOWN)


class MessagePurpose(models.TextChoices):
    APPOINTMENT_BOOKED = "appointment_booked", "Appointment booked"
    APPOINTMENT_CANCELLED = "appointment_cancelled", "Appointment cancelled"
    REMINDER = "reminder", "Reminder of a review"
    QUESTIONNAIRE = "questionnaire", "Questionnaire"


class TemplateLength(models.TextChoices):
    SHORT = "short", "Text message"
    LONG = "long", "E-mail or letter"


class MessageTemplate(AuditedRow):
    """One version of the words of a site for a purpose. Never edited: a change is a new number.

    Those without a site are shipped, and are used where a site has none of its own.
    """

    site = models.ForeignKey(
        Site, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    purpose = models.CharField(max_length=24, choices=MessagePurpose.choices)
    length = models.CharField(max_length=5, choices=TemplateLength.choices)
    language = models.CharField(max_length=10)
    number = models.PositiveSmallIntegerField(default=1)
    subject = models.CharField(max_length=120, blank=True, default="")
    body = models.TextField(max_length=4000)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["purpose", "length", "language", "-number"]
        constraints = [
            one_of("purpose", MessagePurpose, "followup_messagetemplate_purpose_known"),
            one_of("length", TemplateLength, "followup_messagetemplate_length_known"),
            models.UniqueConstraint(
                fields=["site", "purpose", "length", "language", "number"],
                nulls_distinct=False,
                name="followup_messagetemplate_once",
            ),
            models.CheckConstraint(condition=~Q(body=""), name="followup_messagetemplate_has_text"),
        ]

    def __str__(self) -> str:
        what = f"{self.get_purpose_display()}, {self.get_length_display().lower()}"
        return f"{what}, {self.language}, version {self.number}"


def shipped_stop_words() -> list[str]:
    """Return the words that end messages until a site says otherwise."""
    return list(STOP_WORDS)


class MessagePolicy(AuditedRow):
    """A site's rules for messages: by which means, when not, how often, and its reminders.

    Quiet hours whose ends are equal are none, which letters alone may have. The first reminder of a review that is not booked
    goes `reminder_first_day` days after its window opened.
    """

    site = models.OneToOneField(Site, on_delete=models.PROTECT, related_name="message_policy")
    sends_email = models.BooleanField(default=True)
    sends_text = models.BooleanField(default=False)
    sends_letter = models.BooleanField(default=False)
    email_quiet_from = models.TimeField(default=time(21))
    email_quiet_until = models.TimeField(default=time(8))
    text_quiet_from = models.TimeField(default=time(21))
    text_quiet_until = models.TimeField(default=time(8))
    letter_quiet_from = models.TimeField(default=time(21))
    letter_quiet_until = models.TimeField(default=time(8))
    most_a_day = models.PositiveSmallIntegerField(default=1)
    most_a_week = models.PositiveSmallIntegerField(default=3)
    language = models.CharField(max_length=10, default="en")
    # An answer that is one of these words ends messages; see rules/replies.py.
    stop_words = models.JSONField(default=shipped_stop_words, blank=True)
    # Of numbers that are written without one; '' where none is to be taken for granted.
    country_code = models.CharField(max_length=4, blank=True, default="", db_default="")
    reminder_count = models.PositiveSmallIntegerField(default=2)
    reminder_first_day = models.PositiveSmallIntegerField(default=3)
    reminder_spacing_days = models.PositiveSmallIntegerField(default=7)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        verbose_name_plural = "message policies"
        constraints = [
            models.CheckConstraint(
                condition=Q(most_a_day__gte=1, most_a_week__gte=F("most_a_day")),
                name="followup_messagepolicy_caps_in_order",
            ),
            models.CheckConstraint(
                condition=Q(reminder_spacing_days__gte=1, reminder_count__lte=10),
                name="followup_messagepolicy_reminders_possible",
            ),
        ]

    def __str__(self) -> str:
        return f"Messages of {self.site}"


class Message(AuditedRow):
    """One message to one patient. Text is made when it goes, from what is true then.

    `key` names its reason, for which it is written once; `number` says which reminder it is, from 0.
    It goes no earlier than `wanted_at`, which quiet hours and failed tries put off.

    A worker holds it by `claim`, since `claimed_at`; `handed_at` is set right before it is handed
    to its carrier, so that nobody has to guess what a worker that died had done. `tries` counts
    since a person last sent it again, which starts a new `round`.
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
    invitation = models.ForeignKey(
        Invitation, on_delete=models.PROTECT, null=True, blank=True, related_name="messages"
    )
    number = models.PositiveSmallIntegerField(default=0)
    purpose = models.CharField(max_length=24, choices=MessagePurpose.choices)
    means = models.CharField(max_length=10, blank=True, default="")
    state = models.CharField(
        max_length=10, choices=MessageState.choices, default=MessageState.WAITING
    )
    wanted_at = models.DateTimeField()
    claim = models.UUIDField(null=True, blank=True, editable=False)
    claimed_at = models.DateTimeField(null=True, blank=True)
    handed_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    round = models.PositiveSmallIntegerField(default=1, db_default=1)
    tries = models.PositiveSmallIntegerField(default=0, db_default=0)
    template = models.ForeignKey(
        MessageTemplate, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    stopped_because = models.CharField(max_length=200, blank=True, default="")
    version = models.PositiveIntegerField(default=1, db_default=1)

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


class StepKind(models.TextChoices):
    CLAIMED = "claimed", "Taken up by a worker"
    HANDING_OVER = "handing_over", "Being handed over"
    ACCEPTED = "accepted", "Accepted"
    REFUSED = "refused", "Refused for good"
    FAILED = "failed", "Could not be handed over"
    UNKNOWN = "unknown", "Not known whether it went"
    LOOKED_UP = "looked_up", "Asked the carrier"
    RELEASED = "released", "Given back: its worker ended before handing it over"
    PUT_OFF = "put_off", "Put off"
    STOPPED = "stopped", "Stopped"
    SENT_AGAIN = "sent_again", "To be sent again, by a person's decision"
    MARKED_DELIVERED = "marked_delivered", "Marked as delivered by a person"
    GIVEN_UP = "given_up", "Given up by a person"


class MessageStep(models.Model):
    """What happened to a message, one line each; only ever added. Who it went to is not in it."""

    message = models.ForeignKey(Message, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=16, choices=StepKind.choices)
    at = models.DateTimeField()
    round = models.PositiveSmallIntegerField()
    number = models.PositiveSmallIntegerField()
    means = models.CharField(max_length=10, blank=True, default="")
    carrier = models.CharField(max_length=20, blank=True, default="")
    # The key that the carrier was given, or the name that it gave back.
    reference = models.CharField(max_length=120, blank=True, default="")
    detail = models.CharField(max_length=300, blank=True, default="")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [one_of("kind", StepKind, "followup_messagestep_kind_known")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.at:%d %b %Y %H:%M}"
