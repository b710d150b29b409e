"""The drawn shoulders, measured: marks set within a pixel give the lengths that were drawn."""

import math
from dataclasses import replace

import numpy as np
import pytest

from analytics.simulation import shoulder_films
from analytics.simulation.shoulder_films import Shoulders, SyntheticFilm
from followup.rules import calibration, landmarks
from followup.rules.calibration import PixelScale
from followup.rules.image_facts import ImageFacts

# The clavicle leans by 6 degrees, so that the height is that much less than the shortest way.
LEAN = math.cos(math.radians(shoulder_films.LEAN_DEG))
FILMS = [
    Shoulders(),
    Shoulders(rotation_deg=12, seed=2),
    Shoulders(rotation_deg=-20, injured="right", magnification=1.25, seed=3),
    Shoulders(rotation_deg=4, imager_spacing_mm=0.15, cc_injured_mm=9.2, cc_other_mm=8.6, seed=4),
]


def rim(film: SyntheticFilm, count: int = 8) -> list[tuple[float, float]]:
    """Return points on the rim of the film's marker."""
    (x, y), radius = film.marker_centre, film.marker_radius_px
    turns = [math.tau * n / count for n in range(count)]
    return [(x + radius * math.cos(turn), y + radius * math.sin(turn)) for turn in turns]


def scales(film: SyntheticFilm) -> list[PixelScale]:
    drawn = film.drawn
    facts = ImageFacts(
        *film.values.shape,
        imager_spacing_mm=(drawn.imager_spacing_mm, drawn.imager_spacing_mm),
        magnification=drawn.magnification,
        source_to_detector_mm=1800,
        source_to_patient_mm=1800 / drawn.magnification,
    )
    magnification, distances, detector = calibration.from_header(facts)
    assert not detector.is_true
    return [magnification, distances, calibration.by_marker(rim(film), drawn.marker_mm)]


@pytest.mark.parametrize("wanted", FILMS, ids=lambda one: f"turned {one.rotation_deg}")
def test_marks_set_within_a_pixel_give_the_true_lengths(wanted: Shoulders) -> None:
    # What is drawn does not matter here: where it lies does.
    film = shoulder_films.draw(replace(wanted, noise=0))
    rng = np.random.default_rng(wanted.seed)
    by_hand = {
        name: (x + float(rng.uniform(-0.35, 0.35)), y + float(rng.uniform(-0.35, 0.35)))
        for name, (x, y) in film.landmarks.items()
    }
    for scale in scales(film):
        assert scale.column_mm == pytest.approx(film.mm_per_pixel)
        found = landmarks.measure(by_hand, scale)
        assert found.injured.ccd_mm == pytest.approx(wanted.cc_injured_mm, abs=film.mm_per_pixel)
        assert found.other.ccd_mm == pytest.approx(wanted.cc_other_mm, abs=film.mm_per_pixel)
        assert found.injured.acd_mm == pytest.approx(wanted.ac_injured_mm, abs=film.mm_per_pixel)
        exact = landmarks.measure(film.landmarks, scale)
        assert exact.injured.ccd_mm == pytest.approx(wanted.cc_injured_mm)
        assert exact.injured.straight_mm == pytest.approx(wanted.cc_injured_mm / LEAN)
        assert exact.ratio_pct == pytest.approx(film.cc_ratio_pct)
        assert exact.tilt_deg == pytest.approx(wanted.rotation_deg)


def test_every_other_row_left_out_changes_nothing_but_the_pixels() -> None:
    film = shoulder_films.draw(Shoulders(rotation_deg=8, noise=0))
    halved = {name: (x, y / 2) for name, (x, y) in film.landmarks.items()}
    scale = calibration.by_marker([(x, y / 2) for x, y in rim(film)], 25, aspect=2)
    found = landmarks.measure(halved, scale)
    assert scale.row_mm == pytest.approx(2 * film.mm_per_pixel)
    assert found.injured.ccd_mm == pytest.approx(film.drawn.cc_injured_mm)
    assert found.ratio_pct == pytest.approx(film.cc_ratio_pct)
    assert found.tilt_deg == pytest.approx(8)
