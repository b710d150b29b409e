"""Pictures of films: those that belong to one, and those that wait for a person to say whose they are."""

from django.db import models
from django.db.models import F, Q

from followup.models.films import Film
from followup.rules.image_facts import ImageFacts
from registry.models.base import ClinicalRow, one_of
from registry.models.injuries import Injury


class ImageKind(models.TextChoices):
    DICOM = "dicom", "DICOM"
    PNG = "png", "PNG"
    JPEG = "jpeg", "JPEG"


class StoredImage(ClinicalRow):
    """A file in the films' storage, without anything that says whose it is.

    `kind` is as what it arrived, `content_hash` the SHA-256 of the file that arrived, `stored_name`
    drawn at random, `file_sha256` and `file_bytes` those of the file that is kept; they lack where it was
    kept before they were known. Values are those of the film, after its rescale: from the least to the most, and
    shown from `shown_low` (black) to `shown_high` (white) unless somebody asks otherwise.
    """

    # Which storage its file lies in, and the column that names it: archives carry it.
    archived_file = ("films", "stored_name")

    content_hash = models.CharField(max_length=64)
    stored_name = models.CharField(max_length=80)
    # Of the file as it is kept, by which it is found out whether it still is that.
    file_sha256 = models.CharField(max_length=64, blank=True, default="", db_default="")
    file_bytes = models.PositiveBigIntegerField(null=True, blank=True)
    kind = models.CharField(max_length=5, choices=ImageKind.choices)
    rows = models.PositiveIntegerField()
    columns = models.PositiveIntegerField()
    frames = models.PositiveIntegerField(default=1)
    facts = models.JSONField(default=dict)
    least = models.FloatField()
    most = models.FloatField()
    shown_low = models.FloatField()
    shown_high = models.FloatField()
    # Boxes that were painted over, each as [frame or 0 for all, left, top, right, bottom].
    painted = models.JSONField(default=list, blank=True)

    class Meta(ClinicalRow.Meta):
        abstract = True
        constraints = [
            *ClinicalRow.Meta.constraints,
            models.CheckConstraint(
                condition=Q(rows__gte=1, columns__gte=1, frames__gte=1),
                name="%(app_label)s_%(class)s_not_empty",
            ),
            models.CheckConstraint(
                condition=Q(most__gte=F("least"), shown_high__gte=F("shown_low")),
                name="%(app_label)s_%(class)s_levels_in_order",
            ),
            models.UniqueConstraint(
                fields=["stored_name"], name="%(app_label)s_%(class)s_one_file"
            ),
        ]

    @property
    def image_facts(self) -> ImageFacts:
        """What the file says of how it was made."""
        return ImageFacts.from_json(self.facts)


class FilmImage(StoredImage):
    """A picture that belongs to a film."""

    film = models.ForeignKey(Film, on_delete=models.PROTECT, related_name="images")

    class Meta(StoredImage.Meta):
        ordering = ["film", "id"]
        constraints = [
            *StoredImage.Meta.constraints,
            one_of("kind", ImageKind, "followup_filmimage_kind_known"),
            models.UniqueConstraint(
                fields=["site", "content_hash"],
                condition=Q(voided_at__isnull=True),
                name="followup_filmimage_once",
            ),
        ]

    def __str__(self) -> str:
        return f"image of {self.film}"


class BurntIn(models.TextChoices):
    """Whether writing is burnt into the picture, as far as its file and its look tell."""

    SAID = "said", "The file says that writing is burnt into the picture"
    LIKELY = "likely", "Pictures of this kind often carry burnt-in writing"
    SEEN = "seen", "Something that looks like writing stands in the picture"
    DENIED = "denied", "The file says that nothing is burnt in"
    UNKNOWN = "unknown", "The file does not say whether anything is burnt in"


class IncomingImage(StoredImage):
    """A picture that waits until a person says whose it is; discarded is voided with a reason."""

    burnt_in = models.CharField(max_length=7, choices=BurntIn.choices, default=BurntIn.UNKNOWN)
    # From whose page it was sent, where it was sent from one.
    injury = models.ForeignKey(
        Injury, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    # What its header proposes, as codes: view and posture.
    view = models.CharField(max_length=10, blank=True, default="", db_default="")
    posture = models.CharField(max_length=10, blank=True, default="", db_default="")
    # Whom its header names, until a person has decided.
    named = models.ForeignKey(
        "registry.HeaderIdentity",
        on_delete=models.SET_NULL,
        related_name="+",
        null=True,
        blank=True,
    )
    # What it became.
    image = models.OneToOneField(
        FilmImage, on_delete=models.PROTECT, related_name="arrived_as", null=True, blank=True
    )

    class Meta(StoredImage.Meta):
        ordering = ["id"]
        constraints = [
            *StoredImage.Meta.constraints,
            one_of("kind", ImageKind, "followup_incomingimage_kind_known"),
            one_of("burnt_in", BurntIn, "followup_incomingimage_burnt_in_known"),
            models.UniqueConstraint(
                fields=["site", "content_hash"],
                condition=Q(voided_at__isnull=True, image__isnull=True),
                name="followup_incomingimage_once",
            ),
        ]

    def __str__(self) -> str:
        return f"image that came on {self.recorded_at:%d %b %Y}"
