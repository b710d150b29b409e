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
    OPTED_OUT = "opted_out", "Opted out"


class Consent(ClinicalRow):
    """One decision of one patient about one purpose, with its date and basis."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="consents")
    purpose = models.CharField(max_length=12, choices=ConsentPurpose.choices)
    decision = models.CharField(max_length=12, choices=ConsentDecision.choices)
    decided_on = models.DateField()
    basis = models.CharField(max_length=200)

    class Meta(ClinicalRow.Meta):
        ordering = ["-decided_on", "-id"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("purpose", ConsentPurpose, "registry_consent_purpose_known"),
            one_of("decision", ConsentDecision, "registry_consent_decision_known"),
            models.CheckConstraint(condition=~Q(basis=""), name="registry_consent_has_basis"),
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
