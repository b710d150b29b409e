"""Films with pictures, for tests that measure on them."""

from typing import Any

import numpy as np

from followup.models import Film, FilmImage, Reading
from followup.services import films, measuring
from registry.models import Injury, Person
from tests import builders
from tests.builders import NOW, TODAY
from tests.world import kept_image

ROWS, COLUMNS = 1000, 1600
HEADER = {"pixel_spacing_mm": [0.1, 0.1], "pixel_spacing_kind": "GEOMETRY"}
# 120 px here and 80 px there; the horizontal is level.
POINTS: dict[str, tuple[float, float]] = {
    "coracoid_top_injured": (300, 700),
    "clavicle_under_injured": (300, 580),
    "acromion_level_injured": (200, 500),
    "clavicle_level_injured": (220, 460),
    "coracoid_top_other": (1300, 700),
    "clavicle_under_other": (1300, 620),
    "horizon_left": (300, 900),
    "horizon_right": (1300, 900),
}
# Eight points on the rim of a disc with a radius of 100 px.
RIM = [
    *((900.0, 300.0), (700.0, 300.0), (800.0, 400.0), (800.0, 200.0)),
    *((880.0, 360.0), (720.0, 360.0), (880.0, 240.0), (720.0, 240.0)),
]


def film(of: Injury | None = None, **values: Any) -> Film:
    hurt = of or builders.injury()
    given = {"taken_on": TODAY, "view": "zanca", "shows_both_sides": True, **values}
    return films.record_film(injury=hurt, values=given, by=hurt.recorded_by, now=NOW, today=TODAY)


def image(
    of: Film | None = None, rows: int = ROWS, columns: int = COLUMNS, **facts: Any
) -> FilmImage:
    """Return a picture of a film, whose header says what is given."""
    whose = of or film()
    count = FilmImage.everything.count()
    grey = np.zeros((rows, columns), dtype=np.uint8)
    # No two pictures are the same file.
    grey[0, :8] = [count >> bit & 1 for bit in range(8)]
    row = kept_image(FilmImage(film=whose, site=whose.site), grey, whose.recorded_by)
    FilmImage.everything.filter(pk=row.pk).update(facts={**row.facts, **facts})
    row.refresh_from_db()
    return row


def calibrate(of: FilmImage, how: str = "geometry", by: Person | None = None, **given: Any) -> Any:
    return measuring.calibrate(image=of, how=how, by=by or of.recorded_by, now=NOW, **given)


def read(
    of: FilmImage,
    reader: Person | None = None,
    points: dict[str, tuple[float, float]] | None = None,
    expected_version: int | None = None,
    **values: Any,
) -> Reading:
    by = reader or of.recorded_by
    return measuring.record_measured(
        image=of,
        points=POINTS if points is None else points,
        values=values,
        reader=by,
        by=by,
        now=NOW,
        today=TODAY,
        expected_version=expected_version,
    )
