"""Tries at reaching a patient."""

from django.db import models

from followup.models.reviews import Review
from registry.models.base import ClinicalRow, one_of
from registry.models.patients import Patient


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
