"""What was implanted, as a whole and in parts, and where it departs from a construct check."""

from django.db import models
from django.db.models import F, Q

from registry.models import folding
from registry.models.base import AuditedRow, ClinicalRow, one_of
from registry.models.implants import ImplantModel
from registry.models.injuries import YesNo
from registry.models.procedures import Procedure


class ConstructFamily(models.TextChoices):
    LOCKING_PLATE = "locking_plate", "Locking plate alone"
    LOCKING_PLATE_ANCHORS = "locking_plate_anchors", "Locking plate with coracoid anchors"
    HOOK_PLATE = "hook_plate", "Hook plate"
    SUSPENSORY = "suspensory", "Suspensory fixation without a plate"
    TENDON_GRAFT = "tendon_graft", "Tendon graft"
    OTHER = "other", "Other"


class ConstructType(AuditedRow):
    """A kind of construct; its code is what figures are grouped by."""

    code = models.CharField(max_length=12, unique=True)
    name = models.CharField(max_length=80, unique=True)
    family = models.CharField(max_length=24, choices=ConstructFamily.choices)
    planned_removal = models.BooleanField(default=False)
    removal_opens_weeks = models.PositiveSmallIntegerField(null=True, blank=True)
    removal_due_weeks = models.PositiveSmallIntegerField(null=True, blank=True)
    uses_small_lateral_screws = models.BooleanField(default=False)
    order = models.PositiveSmallIntegerField(default=0)
    source_note = models.CharField(max_length=300, blank=True, default="")
    is_active = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["order", "code"]
        constraints = [
            one_of("family", ConstructFamily, "registry_constructtype_family_known"),
            models.CheckConstraint(
                condition=Q(planned_removal=False)
                | Q(
                    removal_opens_weeks__isnull=False,
                    removal_due_weeks__isnull=False,
                    removal_due_weeks__gte=F("removal_opens_weeks"),
                ),
                name="registry_constructtype_removal_window",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Knot(models.TextChoices):
    SURGEONS = "surgeons_knot", "Surgeon's knot"
    OTHER = "other", "Another knot"
    KNOTLESS = "knotless", "Knotless"
    NOT_APPLICABLE = "not_applicable", "Not applicable"
    UNKNOWN = "unknown", "Unknown"


class FirstScrews(models.TextChoices):
    EACH_SIDE = "one_each_side", "One medial and one lateral to the fracture"
    SAME_SIDE = "same_side", "Both on the same side"
    NOT_APPLICABLE = "not_applicable", "Not applicable"
    UNKNOWN = "unknown", "Unknown"


class GuideWire(models.TextChoices):
    CLEAR = "yes", "Shown clear of the joint"
    NOT_CLEAR = "no", "Shown, not clear of the joint"
    NOT_SHOWN = "not_shown", "Not shown"
    NOT_APPLICABLE = "not_applicable", "Not applicable"
    UNKNOWN = "unknown", "Unknown"


class ShorterScrew(models.TextChoices):
    YES = "yes", "The shorter was taken"
    NO = "no", "The longer was taken"
    NOT_BETWEEN = "not_between", "Never between two lengths"
    NOT_APPLICABLE = "not_applicable", "Not applicable"
    UNKNOWN = "unknown", "Unknown"


class Graft(models.TextChoices):
    NONE = "none", "None"
    AUTOGRAFT = "autograft", "Autograft"
    ALLOGRAFT = "allograft", "Allograft"
    SYNTHETIC = "synthetic", "Synthetic"
    UNKNOWN = "unknown", "Unknown"


class Construct(ClinicalRow):
    """What one procedure left in place. Counts and diameters that are not known stay empty."""

    procedure = models.OneToOneField(Procedure, on_delete=models.PROTECT, related_name="construct")
    construct_type = models.ForeignKey(
        ConstructType, on_delete=models.PROTECT, related_name="constructs"
    )
    plate_holes = models.PositiveSmallIntegerField(null=True, blank=True)
    lateral_screw_count = models.PositiveSmallIntegerField(null=True, blank=True)
    lateral_screw_diameter_mm = models.DecimalField(
        max_digits=3, decimal_places=1, null=True, blank=True
    )
    lateral_drill_mm = models.DecimalField(max_digits=3, decimal_places=1, null=True, blank=True)
    lateral_screws_locking = models.CharField(
        max_length=10, choices=YesNo.choices, default=YesNo.UNKNOWN
    )
    shaft_screw_count = models.PositiveSmallIntegerField(null=True, blank=True)
    shaft_screw_diameter_mm = models.DecimalField(
        max_digits=3, decimal_places=1, null=True, blank=True
    )
    shaft_drill_mm = models.DecimalField(max_digits=3, decimal_places=1, null=True, blank=True)
    shaft_cortices = models.PositiveSmallIntegerField(null=True, blank=True)
    anchor_count = models.PositiveSmallIntegerField(null=True, blank=True)
    button_count = models.PositiveSmallIntegerField(null=True, blank=True)
    free_slots_count = models.PositiveSmallIntegerField(null=True, blank=True)
    retainer_count = models.PositiveSmallIntegerField(null=True, blank=True)
    suture_kind = models.CharField(max_length=60, blank=True, default="")
    knot = models.CharField(max_length=16, choices=Knot.choices, default=Knot.UNKNOWN)
    half_hitch_count = models.PositiveSmallIntegerField(null=True, blank=True)
    graft = models.CharField(max_length=12, choices=Graft.choices, default=Graft.UNKNOWN)
    first_two_screws = models.CharField(
        max_length=16, choices=FirstScrews.choices, default=FirstScrews.UNKNOWN
    )
    guide_wire_clear = models.CharField(
        max_length=16, choices=GuideWire.choices, default=GuideWire.UNKNOWN
    )
    shorter_screw_chosen = models.CharField(
        max_length=16, choices=ShorterScrew.choices, default=ShorterScrew.UNKNOWN
    )

    class Meta(ClinicalRow.Meta):
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("lateral_screws_locking", YesNo, "registry_construct_locking_known"),
            one_of("knot", Knot, "registry_construct_knot_known"),
            one_of("graft", Graft, "registry_construct_graft_known"),
            one_of("first_two_screws", FirstScrews, "registry_construct_first_screws_known"),
            one_of("guide_wire_clear", GuideWire, "registry_construct_guide_wire_known"),
            one_of("shorter_screw_chosen", ShorterScrew, "registry_construct_shorter_known"),
            models.CheckConstraint(
                condition=(Q(plate_holes__isnull=True) | Q(plate_holes__lte=30))
                & (Q(lateral_screw_count__isnull=True) | Q(lateral_screw_count__lte=20))
                & (Q(shaft_screw_count__isnull=True) | Q(shaft_screw_count__lte=20))
                & (Q(shaft_cortices__isnull=True) | Q(shaft_cortices__lte=40))
                & (Q(anchor_count__isnull=True) | Q(anchor_count__lte=6))
                & (Q(button_count__isnull=True) | Q(button_count__lte=6))
                & (Q(half_hitch_count__isnull=True) | Q(half_hitch_count__lte=20)),
                name="registry_construct_counts_possible",
            ),
        ]

    def __str__(self) -> str:
        return str(self.construct_type)


class ConstructDeparture(ClinicalRow):
    """A construct check that was not met, with the rule's version and the surgeon's reason."""

    construct = models.ForeignKey(Construct, on_delete=models.PROTECT, related_name="departures")
    check_id = models.CharField(max_length=40)
    check_version = models.PositiveSmallIntegerField()
    found = models.CharField(max_length=200)
    reason = models.CharField(max_length=300, blank=True, default="")

    class Meta(ClinicalRow.Meta):
        ordering = ["check_id"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            models.UniqueConstraint(
                fields=["construct", "check_id", "check_version"],
                condition=Q(voided_at__isnull=True),
                name="registry_departure_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.check_id}: {self.found}"


class Part(ClinicalRow):
    """One implanted part: which model, how many, which batch; the scanned label as it was.

    `warnings` are what was told when the part was recorded, each a code with its words, and
    `kept_because` why it was kept with them. `other_identifiers` are what else the label says, by
    the codes of its standard.
    """

    construct = models.ForeignKey(Construct, on_delete=models.PROTECT, related_name="parts")
    implant_model = models.ForeignKey(ImplantModel, on_delete=models.PROTECT, related_name="parts")
    quantity = models.PositiveSmallIntegerField(default=1)
    batch = models.CharField(max_length=40, blank=True, default="")
    serial = models.CharField(max_length=40, blank=True, default="")
    expires_on = models.DateField(null=True, blank=True)
    made_on = models.DateField(null=True, blank=True)
    raw_identifier = models.CharField(max_length=900, blank=True, default="")
    other_identifiers = models.JSONField(default=dict, blank=True)
    warnings = models.JSONField(default=list, blank=True)
    kept_because = models.CharField(max_length=300, blank=True, default="", db_default="")
    batch_not_obtainable = models.BooleanField(default=False)
    # What numbers are searched by; the database works them out, so no write leaves them behind.
    batch_folded = folding.folded("batch")
    batch_ordered = folding.ordered("batch")
    batch_alike = folding.alike("batch")
    serial_folded = folding.folded("serial")
    serial_ordered = folding.ordered("serial")
    serial_alike = folding.alike("serial")

    class Meta(ClinicalRow.Meta):
        ordering = ["id"]
        indexes = [
            models.Index(fields=["batch_folded"], name="registry_part_batch"),
            models.Index(fields=["batch_ordered"], name="registry_part_batch_order"),
            models.Index(fields=["batch_alike"], name="registry_part_batch_alike"),
            models.Index(fields=["serial_folded"], name="registry_part_serial"),
            models.Index(fields=["serial_ordered"], name="registry_part_serial_order"),
            models.Index(fields=["serial_alike"], name="registry_part_serial_alike"),
            models.Index(
                fields=["implant_model", "batch_folded"], name="registry_part_model_batch"
            ),
            models.Index(fields=["expires_on"], name="registry_part_expiry"),
        ]
        constraints = [
            *ClinicalRow.Meta.constraints,
            models.CheckConstraint(
                condition=Q(quantity__gte=1, quantity__lte=40),
                name="registry_part_quantity_possible",
            ),
            models.CheckConstraint(
                condition=Q(batch_not_obtainable=False) | Q(batch=""),
                name="registry_part_batch_or_not_obtainable",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} x {self.implant_model}"
