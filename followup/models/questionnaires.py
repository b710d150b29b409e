"""What patients are asked at home, the invitation to answer, and what they answered."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from followup.models.reviews import Review
from followup.rules.languages import SHIPPED
from followup.rules.reminding import EXPIRY_DAYS, REMINDER_DAYS
from registry.models.base import AuditedRow, ClinicalRow
from registry.models.sites import Site

LANGUAGES = list(SHIPPED.items())


def shipped_reminder_days() -> list[int]:
    """Return the days on which somebody who has not answered is reminded."""
    return list(REMINDER_DAYS)


class QuestionnaireSetup(AuditedRow):
    """How a site asks its patients at home: whether, until when, when reminded."""

    site = models.OneToOneField(Site, on_delete=models.PROTECT, related_name="questionnaire_setup")
    invites = models.BooleanField(default=False)
    expiry_days = models.PositiveSmallIntegerField(default=EXPIRY_DAYS)
    reminder_days = models.JSONField(default=shipped_reminder_days, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(expiry_days__gte=1, expiry_days__lte=90),
                name="followup_questionnaire_expiry_days",
            ),
        ]

    def __str__(self) -> str:
        return f"Questionnaires of {self.site}"


class UrgentAdvice(AuditedRow):
    """A site's own words for a patient whose answer is alarming; never edited, a change is a new one."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="urgent_advice")
    language = models.CharField(max_length=10, choices=LANGUAGES)
    number = models.PositiveSmallIntegerField()
    text = models.TextField(max_length=1000)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True
    )

    class Meta:
        ordering = ["site", "language", "-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "language", "number"], name="followup_urgentadvice_once"
            ),
            models.CheckConstraint(condition=~Q(text=""), name="followup_urgentadvice_has_text"),
        ]

    def __str__(self) -> str:
        return f"{self.get_language_display()}, version {self.number}"


class Questionnaire(AuditedRow):
    """What a site asks for a step of its protocols, by the step's code; a change is a new number."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="questionnaires")
    step_code = models.SlugField(max_length=12)
    number = models.PositiveSmallIntegerField()
    contents = models.JSONField(default=list, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True
    )

    class Meta:
        ordering = ["site", "step_code", "-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "step_code", "number"], name="followup_questionnaire_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.step_code}, version {self.number}"


class Wording(AuditedRow):
    """The items of a licensed instrument as a site pasted them under its own licence.

    Its words are never edited: a change is a new number. One of a language is in use at a time.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="wordings")
    instrument = models.CharField(max_length=16)
    language = models.CharField(max_length=10, choices=LANGUAGES)
    number = models.PositiveSmallIntegerField()
    edition = models.CharField(max_length=60)
    licence_note = models.CharField(max_length=300)
    items = models.JSONField()
    in_use = models.BooleanField(default=False)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True
    )

    class Meta:
        ordering = ["site", "instrument", "language", "-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "instrument", "language", "number"], name="followup_wording_once"
            ),
            models.UniqueConstraint(
                fields=["site", "instrument", "language"],
                condition=Q(in_use=True),
                name="followup_wording_one_in_use",
            ),
            models.CheckConstraint(
                condition=~Q(licence_note="") & ~Q(edition=""),
                name="followup_wording_says_licence",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.instrument}, {self.get_language_display()}, version {self.number}"


class Invitation(AuditedRow):
    """One patient is asked about one review. What is asked stays as it was when they were invited."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="invitations")
    review = models.ForeignKey(Review, on_delete=models.PROTECT, related_name="invitations")
    contents = models.JSONField(default=list)
    language = models.CharField(max_length=10, choices=LANGUAGES, default="en")
    made_at = models.DateTimeField()
    # When the first link was handed out: from then on it can be answered.
    sent_at = models.DateTimeField(null=True, blank=True)
    expires_at = models.DateTimeField()
    reminder = models.PositiveSmallIntegerField(default=0)
    opened_at = models.DateTimeField(null=True, blank=True)
    at_page = models.CharField(max_length=24, blank=True, default="")
    completed_at = models.DateTimeField(null=True, blank=True)
    # When the answers became scores: at the end, or when the time was over before it.
    landed_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_because = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ["made_at", "id"]
        indexes = [
            models.Index(fields=["site", "expires_at"]),
            models.Index(
                fields=["expires_at"],
                condition=Q(completed_at__isnull=True, revoked_at__isnull=True),
                name="followup_invitation_open",
            ),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["review"],
                condition=Q(revoked_at__isnull=True),
                name="followup_invitation_once",
            ),
            models.CheckConstraint(
                condition=Q(revoked_at__isnull=True, revoked_because="")
                | (Q(revoked_at__isnull=False) & ~Q(revoked_because="")),
                name="followup_invitation_revoked_says_why",
            ),
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("made_at")),
                name="followup_invitation_expires_later",
            ),
        ]

    def __str__(self) -> str:
        return f"Questionnaire {self.review_id}"


class InvitationLink(AuditedRow):
    """One link that was handed out: what is kept is the SHA-256 of its token, never the token."""

    invitation = models.ForeignKey(Invitation, on_delete=models.PROTECT, related_name="links")
    token_hash = models.CharField(max_length=64, unique=True)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    class Meta:
        ordering = ["issued_at", "id"]

    def __str__(self) -> str:
        return f"Link of {self.issued_at:%d %b %Y}"


class Answer(ClinicalRow):
    """One answer, kept as soon as it is given; the trail keeps what stood there before.

    `question` is the code of a question of ours, or an instrument and its item number.
    """

    invitation = models.ForeignKey(Invitation, on_delete=models.PROTECT, related_name="answers")
    question = models.CharField(max_length=24)
    value = models.CharField(max_length=20, blank=True, default="")
    language = models.CharField(max_length=10, choices=LANGUAGES)
    wording = models.ForeignKey(
        Wording, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    class Meta(ClinicalRow.Meta):
        ordering = ["invitation", "id"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            models.UniqueConstraint(
                fields=["invitation", "question"],
                condition=Q(voided_at__isnull=True),
                name="followup_answer_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.question}: {self.value}"
