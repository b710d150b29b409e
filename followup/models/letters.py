"""Notes and letters about one visit: composed from the record, edited, and kept as sent."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from followup.models.reviews import Review
from registry.models.base import ClinicalRow, one_of


class LetterKind(models.TextChoices):
    NOTE = "note", "Visit note"
    REFERRER = "referrer", "Letter to the referring doctor"
    PATIENT = "patient", "Letter to the patient"


class LetterState(models.TextChoices):
    DRAFT = "draft", "Draft"
    SENT = "sent", "Sent"


class SentBy(models.TextChoices):
    POST = "post", "By post"
    HANDED = "handed", "Handed over"
    FILED = "filed", "Filed in the hospital's record"


class Letter(ClinicalRow):
    """One note or letter; a new one of the same kind has the next number. Its words are apart.

    `content_hash` is the SHA-256 of the words of this version, which so stand in the trail without
    naming anybody. What was sent is never changed.
    """

    review = models.ForeignKey(Review, on_delete=models.PROTECT, related_name="letters")
    kind = models.CharField(max_length=8, choices=LetterKind.choices)
    number = models.PositiveSmallIntegerField(default=1)
    state = models.CharField(max_length=5, choices=LetterState.choices, default=LetterState.DRAFT)
    content_hash = models.CharField(max_length=64)
    sent_on = models.DateField(null=True, blank=True)
    sent_by_means = models.CharField(max_length=6, choices=SentBy.choices, blank=True, default="")
    # SHA-256 of the pages as they went out.
    pages_hash = models.CharField(max_length=64, blank=True, default="")

    class Meta(ClinicalRow.Meta):
        ordering = ["review", "kind", "number"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("kind", LetterKind, "followup_letter_kind_known"),
            one_of("state", LetterState, "followup_letter_state_known"),
            models.UniqueConstraint(
                fields=["review", "kind", "number"],
                condition=Q(voided_at__isnull=True),
                name="followup_letter_number_once",
            ),
            models.UniqueConstraint(
                fields=["review", "kind"],
                condition=Q(state="draft", voided_at__isnull=True),
                name="followup_letter_one_draft",
            ),
            models.CheckConstraint(
                condition=Q(state="draft", sent_on__isnull=True, sent_by_means="", pages_hash="")
                | (
                    Q(state="sent", sent_on__isnull=False, sent_by_means__in=SentBy.values)
                    & ~Q(pages_hash="")
                ),
                name="followup_letter_sent_is_whole",
            ),
        ]

    def __str__(self) -> str:
        again = f", {self.number}" if self.number > 1 else ""
        return f"{self.get_kind_display()}{again}"


class LetterText(models.Model):
    """The words of one version of a letter, only ever added.

    They name a patient, so that they are not in the trail, and go when a patient is erased. `pages`
    is the PDF as it went out.
    """

    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, related_name="texts")
    version = models.PositiveIntegerField()
    head = models.JSONField(default=list, blank=True)
    addressee = models.TextField(max_length=600, blank=True, default="")
    body = models.TextField(max_length=12000)
    pages = models.BinaryField(null=True, blank=True)
    saved_at = models.DateTimeField()
    saved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["letter", "version"]
        constraints = [
            models.UniqueConstraint(
                fields=["letter", "version"], name="followup_lettertext_version_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.letter}, version {self.version}"
