"""Names, birth date, contacts and identifiers: kept apart, never read by figures or exports."""

from django.db import models
from django.db.models import F, Q

from registry.models.base import AuditedRow, one_of
from registry.models.patients import Patient
from registry.models.sites import Site


class Sex(models.TextChoices):
    FEMALE = "female", "Female"
    MALE = "male", "Male"
    OTHER = "other", "Other"
    UNKNOWN = "unknown", "Unknown"


class Means(models.TextChoices):
    PHONE = "phone", "Phone call"
    TEXT = "text", "Text message"
    EMAIL = "email", "E-mail"
    LETTER = "letter", "Letter"


class Identity(AuditedRow):
    """Who the patient is. A birth date known only in part is kept as its bounds."""

    patient = models.OneToOneField(Patient, on_delete=models.PROTECT, related_name="identity")
    family_name = models.CharField(max_length=80)
    given_name = models.CharField(max_length=80)
    sort_name = models.CharField(max_length=170, editable=False, db_index=True)
    birth_earliest = models.DateField()
    birth_latest = models.DateField()
    sex = models.CharField(max_length=10, choices=Sex.choices, default=Sex.UNKNOWN)
    phone = models.CharField(max_length=30, blank=True, default="")
    email = models.EmailField(blank=True, default="")
    address = models.CharField(max_length=300, blank=True, default="")
    preferred_means = models.CharField(max_length=10, choices=Means.choices, default=Means.PHONE)
    refused_means = models.JSONField(default=list, blank=True)
    language = models.CharField(max_length=10, default="en")
    other_contact_name = models.CharField(max_length=120, blank=True, default="")
    other_contact_phone = models.CharField(max_length=30, blank=True, default="")
    contact_checked_on = models.DateField(null=True, blank=True)
    # When a number, an address or another contact last became known or was corrected.
    contacts_changed_at = models.DateTimeField(null=True, blank=True, editable=False)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        verbose_name_plural = "identities"
        # Possible duplicates are looked for among those born on the same day or with one phone.
        indexes = [
            models.Index(fields=["birth_earliest", "birth_latest"]),
            models.Index(fields=["phone"]),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(birth_latest__gte=F("birth_earliest")),
                name="registry_identity_birth_bounds",
            ),
            models.CheckConstraint(
                condition=~Q(family_name=""), name="registry_identity_has_family_name"
            ),
            one_of("sex", Sex, "registry_identity_sex_known"),
            one_of("preferred_means", Means, "registry_identity_means_known"),
        ]

    def __str__(self) -> str:
        return f"{self.family_name}, {self.given_name}"


class AlternativeContact(AuditedRow):
    """Somebody else through whom the patient may be reached, besides the one in the identity."""

    patient = models.ForeignKey(
        Patient, on_delete=models.PROTECT, related_name="alternative_contacts"
    )
    name = models.CharField(max_length=120)
    relation = models.CharField(max_length=60, blank=True, default="")
    phone = models.CharField(max_length=30)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(name="") & ~Q(phone=""), name="registry_alternativecontact_not_empty"
            ),
        ]

    def __str__(self) -> str:
        whom = f"{self.name} ({self.relation})" if self.relation else self.name
        return f"{whom}, {self.phone}"


class Identifier(AuditedRow):
    """A number that an issuing system gave to a patient at a site."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="identifiers")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    issuing_system = models.CharField(max_length=60)
    value = models.CharField(max_length=60, db_index=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "issuing_system", "value"], name="registry_identifier_once"
            ),
            models.CheckConstraint(condition=~Q(value=""), name="registry_identifier_not_empty"),
        ]

    def __str__(self) -> str:
        return f"{self.issuing_system} {self.value}"


class HeaderIdentity(models.Model):
    """Whom the header of a file names, until a person has said whose it is; then the row goes.

    It stands outside the trail, which would keep the names for good.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    number = models.CharField(max_length=60, blank=True, default="")
    family_name = models.CharField(max_length=80, blank=True, default="")
    given_name = models.CharField(max_length=80, blank=True, default="")
    birth_date = models.DateField(null=True, blank=True)
    file_name = models.CharField(max_length=120, blank=True, default="")
    kept_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "header identities"

    def __str__(self) -> str:
        names = ", ".join(name for name in (self.family_name, self.given_name) if name)
        return names or "nobody named"
