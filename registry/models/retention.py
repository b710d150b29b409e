"""How long a site keeps what, what is held in spite of it, and the proof of what was destroyed."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from registry.models.base import AuditedRow, one_of
from registry.models.patients import Patient
from registry.models.sites import Site


class RetentionKind(models.TextChoices):
    PATIENTS = "patients", "Patients of whom nothing was heard"
    REPLIES = "replies", "What patients wrote back"
    UPLOADS = "uploads", "Files of cases that were sent for import"
    HOSPITAL = "hospital_texts", "Texts of the hospital's system"
    SIGN_INS = "sign_ins", "Sign-ins and tries"
    COPIES = "copies", "Copies in FHIR that were asked for"


class RetentionRule(AuditedRow):
    """One version of a site's rule about a kind: how long, and under which law or policy.

    In the unit of its kind (`registry/rules/retention.py`). `least` is what law or policy ask for at
    least, as the site entered it. Never edited: a change is a new version, and the earlier one ends.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="retention_rules")
    kind = models.CharField(max_length=16, choices=RetentionKind.choices)
    version = models.PositiveIntegerField()
    keep = models.PositiveIntegerField()
    least = models.PositiveIntegerField(null=True, blank=True)
    basis = models.CharField(max_length=300)
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    class Meta:
        ordering = ["site", "kind", "-version"]
        constraints = [
            one_of("kind", RetentionKind, "registry_retentionrule_kind_known"),
            models.UniqueConstraint(
                fields=["site", "kind", "version"], name="registry_retentionrule_version_once"
            ),
            models.UniqueConstraint(
                fields=["site", "kind"],
                condition=Q(ended_at__isnull=True),
                name="registry_retentionrule_one_in_force",
            ),
            models.CheckConstraint(
                condition=Q(least__isnull=True) | Q(keep__gte=F("least")),
                name="registry_retentionrule_not_below_least",
            ),
            models.CheckConstraint(
                condition=Q(keep__gte=1) & ~Q(basis=""), name="registry_retentionrule_says_why"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} at {self.site}, version {self.version}"


class RetentionHold(AuditedRow):
    """A patient whose records are kept in spite of the rule: until a day, or until somebody lifts it."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="holds")
    until = models.DateField(null=True, blank=True)
    reason = models.CharField(max_length=300)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    lifted_because = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="registry_retentionhold_says_why"),
            models.CheckConstraint(
                condition=Q(lifted_at__isnull=True, lifted_by__isnull=True, lifted_because="")
                | (Q(lifted_at__isnull=False, lifted_by__isnull=False) & ~Q(lifted_because="")),
                name="registry_retentionhold_lifted_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.patient} is kept"


class Destruction(AuditedRow):
    """Proof that records were destroyed: how many of a kind, when, under which words. It names nobody.

    Without a person it was done by the night; without a site it is of the whole service. Only ever added.
    """

    site = models.ForeignKey(
        Site, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    kind = models.CharField(max_length=16, choices=RetentionKind.choices)
    number = models.PositiveIntegerField()
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    rule = models.ForeignKey(
        RetentionRule, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    words = models.CharField(max_length=300)

    class Meta:
        ordering = ["-id"]
        constraints = [
            one_of("kind", RetentionKind, "registry_destruction_kind_known"),
            models.CheckConstraint(condition=Q(number__gte=1), name="registry_destruction_of_some"),
        ]

    def __str__(self) -> str:
        return f"{self.number}, {self.get_kind_display().lower()}, {self.at:%d %b %Y}"
