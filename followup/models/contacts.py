"""Tries at reaching a patient."""

from django.db import models
from django.db.models import F, Q

from followup.models.reviews import Review
from registry.models.base import AuditedRow, ClinicalRow, one_of
from registry.models.patients import Patient
from registry.models.sites import Site


class ContactMeans(models.TextChoices):
    PHONE = "phone", "Phone call"
    TEXT = "text", "Text message"
    EMAIL = "email", "E-mail"
    LETTER = "letter", "Letter"
    OTHER_PERSON = "other_person", "Through the other contact"


class ContactOutcome(models.TextChoices):
    REACHED = "reached", "Reached"
    NO_ANSWER = "no_answer", "No answer"
    MESSAGE_LEFT = "message_left", "Message left"
    WRONG_CONTACT = "wrong_contact", "Contact is wrong"
    DECLINED = "declined", "Does not want to come"


class ContactAttempt(ClinicalRow):
    """One try at reaching a patient about a review: means, outcome, what is next."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="contact_attempts")
    review = models.ForeignKey(
        Review, on_delete=models.PROTECT, null=True, blank=True, related_name="contact_attempts"
    )
    tried_at = models.DateTimeField()
    means = models.CharField(max_length=14, choices=ContactMeans.choices)
    outcome = models.CharField(max_length=14, choices=ContactOutcome.choices)
    note = models.CharField(max_length=300, blank=True, default="")

    class Meta(ClinicalRow.Meta):
        ordering = ["-tried_at", "-id"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("means", ContactMeans, "followup_contact_means_known"),
            one_of("outcome", ContactOutcome, "followup_contact_outcome_known"),
        ]

    def __str__(self) -> str:
        return f"{self.get_means_display()}: {self.get_outcome_display()}"


class ContactPolicy(AuditedRow):
    """How a site tries to reach its patients; the numbers of followup/rules/contact.py."""

    site = models.OneToOneField(Site, on_delete=models.PROTECT, related_name="contact_policy")
    attempts = models.PositiveSmallIntegerField(default=6)
    means = models.PositiveSmallIntegerField(default=2)
    over_days = models.PositiveSmallIntegerField(default=14)
    days_between = models.PositiveSmallIntegerField(default=2)
    calls_before_other_route = models.PositiveSmallIntegerField(default=3)
    reminder_days = models.PositiveSmallIntegerField(default=7)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        verbose_name_plural = "contact policies"
        constraints = [
            models.CheckConstraint(
                condition=Q(attempts__gte=1, attempts__lte=30, means__gte=1, means__lte=5)
                & Q(means__lte=F("attempts"), over_days__lte=180, days_between__lte=60)
                & Q(calls_before_other_route__gte=1, calls_before_other_route__lte=30)
                & Q(reminder_days__gte=1, reminder_days__lte=180),
                name="followup_contactpolicy_possible",
            ),
        ]

    def __str__(self) -> str:
        return f"How {self.site} reaches its patients"


class Unreachable(ClinicalRow):
    """The dated verdict that a site cannot reach a patient, with its reason; ended, not deleted."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="unreachable")
    since = models.DateField()
    reason = models.CharField(max_length=300)
    ended_on = models.DateField(null=True, blank=True)
    ended_because = models.CharField(max_length=200, blank=True, default="")

    class Meta(ClinicalRow.Meta):
        ordering = ["-since", "-id"]
        verbose_name_plural = "unreachable"
        constraints = [
            *ClinicalRow.Meta.constraints,
            models.UniqueConstraint(
                fields=["patient", "site"],
                condition=Q(ended_on__isnull=True, voided_at__isnull=True),
                name="followup_unreachable_once",
            ),
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True, ended_because="")
                | (Q(ended_on__gte=F("since")) & ~Q(ended_because="")),
                name="followup_unreachable_ends_with_cause",
            ),
        ]

    def __str__(self) -> str:
        return f"Cannot be reached since {self.since:%d %b %Y}: {self.reason}"
