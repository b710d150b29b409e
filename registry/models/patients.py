"""The patient as the clinical facts know them: a key and a state, no name."""

import secrets

from django.db import models
from django.db.models import Q

from registry.models.base import AuditedRow, ClinicalRow, one_of
from registry.models.sites import Site

KEY_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"


def new_key() -> str:
    """Return a random patient key: eight letters and digits without look-alikes."""
    return "".join(secrets.choice(KEY_LETTERS) for _ in range(8))


class PatientStatus(models.TextChoices):
    ACTIVE = "active", "Under follow-up"
    DIED = "died", "Died"
    WITHDRAWN = "withdrawn", "Withdrew"
    MOVED = "moved", "Moved away"


class Patient(ClinicalRow):
    """One person, known to clinical rows and figures by key alone."""

    archived_by = ("site", "at_sites__site")

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    status = models.CharField(
        max_length=12, choices=PatientStatus.choices, default=PatientStatus.ACTIVE
    )
    status_on = models.DateField(null=True, blank=True)
    status_note = models.CharField(max_length=300, blank=True, default="")
    merged_into = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="merged_from"
    )

    class Meta(ClinicalRow.Meta):
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("status", PatientStatus, "registry_patient_status_known"),
            models.CheckConstraint(
                condition=Q(status=PatientStatus.ACTIVE, status_on__isnull=True)
                | (~Q(status=PatientStatus.ACTIVE) & Q(status_on__isnull=False)),
                name="registry_patient_ended_has_date",
            ),
        ]

    def __str__(self) -> str:
        return self.key


class ConsentPurpose(models.TextChoices):
    REGISTRY = "registry", "Use of the data in the registry"
    CONTACT = "contact", "Being contacted"
    SHARING = "sharing", "Sharing for research"


class ConsentDecision(models.TextChoices):
    GIVEN = "given", "Given"
    FROM_NOW = "from_now_on", "Opted out from that day on"
    OPTED_OUT = "opted_out", "Opted out wholly"


class ConsentChannel(models.TextChoices):
    CLINIC = "clinic", "In clinic"
    PHONE = "phone", "By phone"
    LETTER = "letter", "By letter or signed form"
    EMAIL = "email", "By e-mail or text message"
    OTHER = "other", "In another way"


class ToldBy(models.TextChoices):
    PATIENT = "patient", "The patient"
    REPRESENTATIVE = "representative", "A legal representative"
    RELATIVE = "relative", "A relative, after the patient's death"
    AUTHORITY = "authority", "An authority or a court"


class Consent(ClinicalRow):
    """One decision of one patient about one purpose: when, by whom, in what way, on what basis.

    The use in the registry can end from a day on, and then what was recorded until that day stays in
    figures; or wholly, and then nothing does. `channel` and `told_by` are '' where nobody wrote them
    down.
    """

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="consents")
    purpose = models.CharField(max_length=12, choices=ConsentPurpose.choices)
    decision = models.CharField(max_length=12, choices=ConsentDecision.choices)
    decided_on = models.DateField()
    basis = models.CharField(max_length=200)
    channel = models.CharField(
        max_length=8, choices=ConsentChannel.choices, blank=True, default="", db_default=""
    )
    told_by = models.CharField(
        max_length=16, choices=ToldBy.choices, blank=True, default="", db_default=""
    )

    class Meta(ClinicalRow.Meta):
        ordering = ["-decided_on", "-id"]
        # Few are not given, and every page of figures asks for those alone.
        indexes = [
            models.Index(
                fields=["changed_at", "patient"],
                condition=~Q(decision=ConsentDecision.GIVEN),
                name="registry_consent_not_given",
            ),
        ]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("purpose", ConsentPurpose, "registry_consent_purpose_known"),
            one_of("decision", ConsentDecision, "registry_consent_decision_known"),
            models.CheckConstraint(condition=~Q(basis=""), name="registry_consent_has_basis"),
            models.CheckConstraint(
                condition=~Q(decision=ConsentDecision.FROM_NOW)
                | Q(purpose=ConsentPurpose.REGISTRY),
                name="registry_consent_from_now_is_of_registry",
            ),
            models.CheckConstraint(
                condition=Q(channel__in=["", *ConsentChannel.values]),
                name="registry_consent_channel_known",
            ),
            models.CheckConstraint(
                condition=Q(told_by__in=["", *ToldBy.values]),
                name="registry_consent_told_by_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_purpose_display()}: {self.get_decision_display().lower()}"


class PatientSite(AuditedRow):
    """A patient is followed at a site; sight of the patient comes from here."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="at_sites")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="patients_here")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["patient", "site"], name="registry_patientsite_once")
        ]

    def __str__(self) -> str:
        return f"{self.patient} at {self.site}"
