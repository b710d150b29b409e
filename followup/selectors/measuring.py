"""What the measuring page shows of one picture: its size of a pixel, its marks, and whose they are."""

from dataclasses import dataclass
from typing import Any

from followup.models.calibrations import ImageCalibration
from followup.models.films import Film, Reading
from followup.models.images import FilmImage
from followup.rules import calibration, landmarks
from followup.rules.calibration import PixelScale
from followup.selectors.films import film_to_read
from followup.selectors.images import image_seen_by
from registry.models.people import Person


@dataclass(frozen=True)
class Measurable:
    """One picture with what measuring on it needs; the film carries its injury, patient and site."""

    image: FilmImage
    used: ImageCalibration | None
    scale: PixelScale
    offers: tuple[PixelScale, ...]
    own: tuple[Reading, ...]
    older: int

    @property
    def landmarks(self) -> dict[str, str]:
        """The landmarks that this film can show, with their words."""
        return landmarks.names(both_sides=self.image.film.shows_both_sides)

    @property
    def calibrated_by(self) -> str:
        """Where its size of a pixel is known from."""
        return calibration.words(self.scale)

    @property
    def doubts(self) -> tuple[str, ...]:
        """What to look at again before trusting the millimetres."""
        return calibration.doubts(self.scale)

    @property
    def measured_frame(self) -> int:
        """The frame on which the reader's own marks stand; the first where there are none."""
        return int(self._marks().get("frame", 1))

    def points(self) -> dict[str, Any]:
        """Return where the reader's own marks stand on this picture, as last saved."""
        return {name: tuple(at) for name, at in self._marks().get("points", {}).items()}

    def _marks(self) -> dict[str, Any]:
        newest = self.own[0] if self.own else None
        if newest is None or newest.image_id != self.image.pk:
            return {}
        marks: dict[str, Any] = newest.landmarks
        return marks


def pictures_of(film: Film) -> list[FilmImage]:
    """Return the pictures of a film that somebody may read."""
    return list(FilmImage.objects.filter(film=film).order_by("id"))


def current_calibration(image: FilmImage) -> ImageCalibration | None:
    """Return the calibration of a picture that none has superseded."""
    row: ImageCalibration | None = ImageCalibration.objects.filter(
        image=image, superseded_by__isnull=True
    ).first()
    return row


def scale_of(image: FilmImage, used: ImageCalibration | None) -> PixelScale:
    """Return the size of a picture's pixel; without calibration only its shape, from the header."""
    if used is None:
        return calibration.none(calibration.aspect_of(image.image_facts))
    return used.scale


def measurable(user: Person, image_id: int) -> Measurable | None:
    """Return a picture that a person may measure; None when it is not there.

    The person's own readings come with it and nobody else's. `older` counts the current readings
    of the picture that were made with an earlier calibration.
    """
    image = image_seen_by(user, image_id)
    film = None if image is None else film_to_read(user, image.film_id)
    if image is None or film is None:
        return None
    image.film = film
    used = current_calibration(image)
    scale = scale_of(image, used)
    current = Reading.objects.filter(image=image, superseded_by__isnull=True)
    older = 0 if used is None else current.exclude(calibration_used=used).count()
    rows = Reading.objects.filter(film=film, reader=user).select_related("calibration_used")
    own = sorted(rows, key=lambda row: (row.superseded_by_id is not None, -row.pk))
    return Measurable(
        image, used, scale, calibration.from_header(image.image_facts), tuple(own), older
    )
