"""How large a pixel of a film's picture is, and where that is known from."""

from django.db import models
from django.db.models import Q

from followup.models.images import FilmImage
from followup.rules import calibration
from followup.rules.calibration import PixelScale
from registry.models.base import ClinicalRow, one_of


class CalibratedBy(models.TextChoices):
    MARKER = calibration.MARKER, calibration.NAMES[calibration.MARKER]
    FIDUCIAL = calibration.FIDUCIAL, calibration.NAMES[calibration.FIDUCIAL]
    GEOMETRY = calibration.GEOMETRY, calibration.NAMES[calibration.GEOMETRY]
    MAGNIFICATION = calibration.MAGNIFICATION, calibration.NAMES[calibration.MAGNIFICATION]
    DISTANCES = calibration.DISTANCES, calibration.NAMES[calibration.DISTANCES]
    DETECTOR = calibration.DETECTOR, calibration.NAMES[calibration.DETECTOR]
    UNTOLD = calibration.UNTOLD, calibration.NAMES[calibration.UNTOLD]
    NONE = calibration.NONE, calibration.NAMES[calibration.NONE]


class ImageCalibration(ClinicalRow):
    """The size of a picture's pixel, (between rows, between columns); a correction supersedes it.

    Where `how` gives ratios only, the sizes are those at the detector or of unknown meaning.
    """

    image = models.ForeignKey(FilmImage, on_delete=models.PROTECT, related_name="calibrations")
    how = models.CharField(max_length=14, choices=CalibratedBy.choices)
    mm_per_pixel_row = models.FloatField(null=True, blank=True)
    mm_per_pixel_column = models.FloatField(null=True, blank=True)
    # A pixel's height over its width: ratios need it where no size is known.
    aspect = models.FloatField(default=1.0)
    facts = models.JSONField(default=dict, blank=True)
    superseded_by = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="supersedes"
    )

    class Meta(ClinicalRow.Meta):
        ordering = ["image", "id"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("how", CalibratedBy, "followup_imagecalibration_how_known"),
            models.UniqueConstraint(
                fields=["image"],
                condition=Q(superseded_by__isnull=True, voided_at__isnull=True),
                name="followup_imagecalibration_one_current",
            ),
            models.CheckConstraint(
                condition=Q(mm_per_pixel_row__isnull=True, mm_per_pixel_column__isnull=True)
                | Q(mm_per_pixel_row__gt=0, mm_per_pixel_column__gt=0),
                name="followup_imagecalibration_size_possible",
            ),
            models.CheckConstraint(
                condition=Q(aspect__gt=0), name="followup_imagecalibration_aspect_possible"
            ),
            models.CheckConstraint(
                condition=~Q(how__in=sorted(calibration.TRUE_MM))
                | Q(mm_per_pixel_column__isnull=False),
                name="followup_imagecalibration_true_has_size",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.image}: {calibration.words(self.scale)}"

    @property
    def scale(self) -> PixelScale:
        """Its size of a pixel as the rules take it."""
        return PixelScale(
            self.how, self.mm_per_pixel_row, self.mm_per_pixel_column, self.aspect, self.facts
        )
