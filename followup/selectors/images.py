"""Which pictures of films a person may see."""

from followup.models.images import FilmImage, StoredImage
from followup.rules.image_levels import Levels
from followup.selectors.visible import visible
from registry.selectors.visible import Viewer


def image_seen_by(user: Viewer, image_id: int) -> FilmImage | None:
    """Return a picture of a film that a person may see; None when it is not there."""
    rows = visible(user, FilmImage, "see_films").filter(film__voided_at__isnull=True)
    found: FilmImage | None = (
        rows.select_related("film__injury__patient", "site").filter(pk=image_id).first()
    )
    return found


def levels_of(image: StoredImage) -> Levels:
    """Return the values that occur in a picture and those shown black and white by default."""
    return Levels(image.least, image.most, image.shown_low, image.shown_high)
