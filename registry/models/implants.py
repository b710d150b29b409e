"""Implant models by their generic description and catalogue number."""

from django.db import models

from registry.models.base import AuditedRow, one_of


class PartKind(models.TextChoices):
    PLATE = "plate", "Plate"
    SCREW = "screw", "Screw"
    ANCHOR = "anchor", "Anchor"
    SUTURE = "suture", "Suture"
    RETAINER = "retainer", "Suture retainer"
    BUTTON = "button", "Button"
    GRAFT = "graft", "Graft"
    OTHER = "other", "Other"


class ImplantModel(AuditedRow):
    """One article that a part can be: generic words, device identifier, catalogue number."""

    kind = models.CharField(max_length=10, choices=PartKind.choices)
    description = models.CharField(max_length=120)
    device_identifier = models.CharField(max_length=40, blank=True, default="")
    catalogue_number = models.CharField(max_length=40, blank=True, default="")
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["kind", "description"]
        constraints = [
            one_of("kind", PartKind, "registry_implantmodel_kind_known"),
            models.UniqueConstraint(
                fields=["kind", "description", "device_identifier", "catalogue_number"],
                name="registry_implantmodel_once",
            ),
        ]

    def __str__(self) -> str:
        return self.description
