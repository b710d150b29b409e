"""Radiographs and the measurements that readers take from them."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from followup.rules import calibration as pixel_size
from registry.models.base import ClinicalRow, one_of
from registry.models.injuries import Injury, YesNo


class View(models.TextChoices):
    AP = "ap", "AP"
    ZANCA = "zanca", "Zanca"
    AXILLARY = "axillary", "Axillary"
    CHEST = "chest", "Chest"
    OTHER = "other", "Other"


class Posture(models.TextChoices):
    UPRIGHT = "upright", "Upright"
    SUPINE = "supine", "Supine"
    UNKNOWN = "unknown", "Unknown"


class Calibration(models.TextChoices):
    MARKER = "marker", "Marker of known size"
    DETECTOR = "detector", "Detector spacing"
    NONE = "none", "None: ratios only"
    UNKNOWN = "unknown", "Unknown: ratios only"


CALIBRATED = (Calibration.MARKER, Calibration.DETECTOR)


class Film(ClinicalRow):
    """One radiograph of an injury: its date, view, posture and calibration."""

    injury = models.ForeignKey(Injury, on_delete=models.PROTECT, related_name="films")
    taken_on = models.DateField()
    view = models.CharField(max_length=10, choices=View.choices)
    posture = models.CharField(max_length=10, choices=Posture.choices, default=Posture.UNKNOWN)
    weighted = models.CharField(max_length=10, choices=YesNo.choices, default=YesNo.UNKNOWN)
    shows_both_sides = models.BooleanField(default=False)
    calibration = models.CharField(
        max_length=10, choices=Calibration.choices, default=Calibration.UNKNOWN
    )

    class Meta(ClinicalRow.Meta):
        ordering = ["taken_on", "id"]
        indexes = [models.Index(fields=["injury", "taken_on"])]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("view", View, "followup_film_view_known"),
            one_of("posture", Posture, "followup_film_posture_known"),
            one_of("weighted", YesNo, "followup_film_weighted_known"),
            one_of("calibration", Calibration, "followup_film_calibration_known"),
        ]

    def __str__(self) -> str:
        return f"{self.get_view_display()}, {self.taken_on:%d %b %Y}"


class Union(models.TextChoices):
    NONE = "none", "Not united"
    PARTIAL = "partial", "Partly united"
    UNITED = "united", "United"
    NOT_APPLICABLE = "not_applicable", "Not applicable"
    UNKNOWN = "unknown", "Cannot be judged"


class HardwareOnFilm(models.TextChoices):
    INTACT = "intact", "In place"
    LOOSE = "loose", "Loose"
    BROKEN = "broken", "Broken"
    MIGRATED = "migrated", "Migrated"
    REMOVED = "removed", "Removed"
    NOT_APPLICABLE = "not_applicable", "Not applicable"
    UNKNOWN = "unknown", "Cannot be judged"


class FractureLine(models.TextChoices):
    VISIBLE = "visible", "Visible"
    NOT_VISIBLE = "not_visible", "Not visible"
    UNKNOWN = "unknown", "Cannot be judged"
    NOT_APPLICABLE = "not_applicable", "Not applicable"
    NOT_DONE = "not_done", "Not looked for"


class Reading(ClinicalRow):
    """One reader's measurements of one film. A correction is a new reading that supersedes it."""

    film = models.ForeignKey(Film, on_delete=models.PROTECT, related_name="readings")
    reader = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="readings"
    )
    read_on = models.DateField()
    ccd_injured_mm = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    ccd_other_mm = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    ccd_side_ratio_pct = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    # How much higher the clavicle's upper cortex stands than the acromion's, negative where lower.
    acd_injured_mm = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    acd_other_mm = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    translation_pct = models.PositiveSmallIntegerField(null=True, blank=True)
    union = models.CharField(max_length=16, choices=Union.choices, default=Union.UNKNOWN)
    # Of the four that two films at right angles show; the reader's union stands beside, not below.
    cortices_bridged = models.PositiveSmallIntegerField(null=True, blank=True)
    fracture_line = models.CharField(
        max_length=16,
        choices=FractureLine.choices,
        default=FractureLine.NOT_DONE,
        db_default=FractureLine.NOT_DONE,
    )
    hardware = models.CharField(
        max_length=16, choices=HardwareOnFilm.choices, default=HardwareOnFilm.UNKNOWN
    )
    blind = models.BooleanField(default=False)
    # The how-manieth reader of this film it is by; a correction keeps it.
    turn = models.PositiveSmallIntegerField(default=1, db_default=1)
    # Where it was measured on a picture: the frame and its points as {name: [column, row]}.
    image = models.ForeignKey(
        "followup.FilmImage",
        on_delete=models.PROTECT,
        related_name="readings",
        null=True,
        blank=True,
    )
    landmarks = models.JSONField(default=dict, blank=True)
    calibration_used = models.ForeignKey(
        "followup.ImageCalibration",
        on_delete=models.PROTECT,
        related_name="readings",
        null=True,
        blank=True,
    )
    superseded_by = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="supersedes"
    )

    class Meta(ClinicalRow.Meta):
        ordering = ["film", "id"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("union", Union, "followup_reading_union_known"),
            one_of("hardware", HardwareOnFilm, "followup_reading_hardware_known"),
            one_of("fracture_line", FractureLine, "followup_reading_fracture_line_known"),
            models.CheckConstraint(
                condition=Q(cortices_bridged__isnull=True) | Q(cortices_bridged__lte=4),
                name="followup_reading_cortices_possible",
            ),
            models.UniqueConstraint(
                fields=["film", "reader"],
                condition=Q(superseded_by__isnull=True, voided_at__isnull=True),
                name="followup_reading_one_current",
            ),
            models.CheckConstraint(
                condition=(
                    Q(ccd_injured_mm__isnull=True) | Q(ccd_injured_mm__gt=0, ccd_injured_mm__lte=60)
                )
                & (Q(ccd_other_mm__isnull=True) | Q(ccd_other_mm__gt=0, ccd_other_mm__lte=60)),
                name="followup_reading_ccd_possible",
            ),
            models.CheckConstraint(
                condition=Q(ccd_side_ratio_pct__isnull=True)
                | Q(ccd_side_ratio_pct__gte=-100, ccd_side_ratio_pct__lte=600),
                name="followup_reading_ratio_possible",
            ),
            models.CheckConstraint(condition=Q(turn__gte=1), name="followup_reading_turn_from_1"),
            models.CheckConstraint(
                condition=Q(translation_pct__isnull=True) | Q(translation_pct__lte=400),
                name="followup_reading_translation_possible",
            ),
            models.CheckConstraint(
                condition=(
                    Q(acd_injured_mm__isnull=True)
                    | Q(acd_injured_mm__gte=-60, acd_injured_mm__lte=60)
                )
                & (Q(acd_other_mm__isnull=True) | Q(acd_other_mm__gte=-60, acd_other_mm__lte=60)),
                name="followup_reading_acd_possible",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.film} read by {self.reader}"

    @property
    def origin(self) -> str:
        """Where its numbers come from, in the words that stand beside them."""
        if not self.landmarks:
            return "numbers typed"
        used = self.calibration_used
        scale = pixel_size.none() if used is None else used.scale
        later = used is not None and (used.superseded_by_id or used.voided_at)
        corrected = "; the calibration was corrected since" if later else ""
        return f"measured on the picture, {pixel_size.words(scale)}{corrected}"
