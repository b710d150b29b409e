"""Implant models by their generic description and catalogue number."""

from django.db import models
from django.db.models import F, Q

from registry.models import folding
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
    """One article that a part can be: generic words, device identifier, catalogue number.

    A draft came with a scanned part and waits for somebody to say what it is. An article that has a
    second identifier is a second row, the `same_as` of the first: what stood on a label stays.
    """

    kind = models.CharField(max_length=10, choices=PartKind.choices)
    description = models.CharField(max_length=120)
    device_identifier = models.CharField(max_length=40, blank=True, default="")
    catalogue_number = models.CharField(max_length=40, blank=True, default="")
    is_active = models.BooleanField(default=True)
    is_draft = models.BooleanField(default=False, db_default=False)
    # What the article brings to the counts of a construct, where that is known.
    plate_holes = models.PositiveSmallIntegerField(null=True, blank=True)
    screw_diameter_mm = models.DecimalField(max_digits=3, decimal_places=1, null=True, blank=True)
    same_as = models.ForeignKey(
        "self", on_delete=models.PROTECT, related_name="others", null=True, blank=True
    )
    version = models.PositiveIntegerField(default=1, db_default=1)
    device_key = folding.article("device_identifier")
    catalogue_key = folding.article("catalogue_number")

    class Meta:
        ordering = ["kind", "description"]
        indexes = [
            models.Index(fields=["device_key"], name="registry_model_device"),
            models.Index(fields=["catalogue_key"], name="registry_model_catalogue"),
        ]
        constraints = [
            one_of("kind", PartKind, "registry_implantmodel_kind_known"),
            models.UniqueConstraint(
                fields=["kind", "description", "device_identifier", "catalogue_number"],
                name="registry_implantmodel_once",
            ),
            # Two people who scan an unknown article at once make one draft.
            models.UniqueConstraint(
                fields=["device_identifier"],
                condition=Q(is_draft=True) & ~Q(device_identifier=""),
                name="registry_implantmodel_one_draft",
            ),
            models.CheckConstraint(
                condition=Q(plate_holes__isnull=True) | Q(plate_holes__lte=30),
                name="registry_implantmodel_holes_possible",
            ),
            models.CheckConstraint(
                condition=Q(same_as__isnull=True) | ~Q(same_as=F("pk")),
                name="registry_implantmodel_not_its_own",
            ),
        ]

    def __str__(self) -> str:
        return self.description
