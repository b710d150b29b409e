"""The greys against those that pydicom works out, and against values worked by hand."""

import numpy as np
import pytest
from pydicom.dataset import Dataset
from pydicom.pixels.processing import apply_voi, apply_windowing

from followup.exchange.dicom_levels import greys, has_own_way, rescaled, usual_ends

VALUES = np.arange(4096)


def header(**said: object) -> Dataset:
    found = Dataset()
    found.PhotometricInterpretation, found.BitsStored, found.PixelRepresentation = (
        "MONOCHROME2",
        12,
        0,
    )
    for keyword, value in said.items():
        setattr(found, keyword, value)
    return found


@pytest.mark.parametrize("function", ["LINEAR", "LINEAR_EXACT", "SIGMOID"])
@pytest.mark.parametrize(("centre", "width"), [(2048, 1000), (600, 400), (2048, 4096)])
def test_a_window_gives_the_greys_of_the_reference(function: str, centre: int, width: int) -> None:
    said = header(WindowCenter=centre, WindowWidth=width, VOILUTFunction=function)
    # The reference answers within the range of 12 bits, from 0 to 4095.
    reference = np.rint(apply_windowing(VALUES, said) / 4095 * 255)
    assert abs(greys(said, VALUES, None).astype(int) - reference).max() <= 1
    assert has_own_way(said)


def test_a_linear_window_by_hand() -> None:
    # PS3.3 C.11.2.1.2.1, note: centre 2048, width 4096 shows 0 black and 4095 white.
    said = header(WindowCenter=2048, WindowWidth=4096)
    assert greys(said, np.array([0, 4095]), None).tolist() == [0, 255]
    # Width 1 is a threshold: up to centre - 0.5 black, above white.
    said = header(WindowCenter=100, WindowWidth=1)
    assert greys(said, np.array([99, 100]), None).tolist() == [0, 255]


def test_a_table_gives_the_greys_of_the_reference() -> None:
    item = Dataset()
    item.LUTDescriptor = [1000, 500, 12]
    item.LUTData = [int(4095 * (n / 999) ** 2) for n in range(1000)]
    item["LUTData"].VR = "US"
    said = header(VOILUTSequence=[item], WindowCenter=10, WindowWidth=5)
    reference = np.rint(apply_voi(VALUES, said) / 4095 * 255)
    assert (greys(said, VALUES, None) == reference).all()
    assert usual_ends(said, 0, 4095, VALUES) == (500, 1499)


def test_values_are_rescaled_before_they_are_shown() -> None:
    said = header(RescaleSlope=2, RescaleIntercept=-100, WindowCenter=0, WindowWidth=400)
    assert rescaled(said, np.array([0, 50, 200])).tolist() == [-100, 0, 300]
    assert greys(said, np.array([0, 200]), None).tolist() == [64, 255]
    # Asked for by hand: (value - low) / (high - low) of the film's own values.
    assert greys(said, np.array([0, 50, 100]), (-100, 100)).tolist() == [0, 128, 255]


def test_a_film_that_is_white_where_values_are_low_is_turned() -> None:
    said = header(PhotometricInterpretation="MONOCHROME1", WindowCenter=2048, WindowWidth=4096)
    assert greys(said, np.array([0, 4095]), None).tolist() == [255, 0]


def test_without_a_window_a_few_extreme_values_do_not_count() -> None:
    sample = np.concatenate([np.arange(1000, 2000), [60_000]])
    low, high = usual_ends(header(), 1000, 60_000, sample)
    assert 1000 <= low < 1010
    assert 1990 < high <= 2000
    assert usual_ends(header(), 5, 5, np.array([5, 5])) == (5, 5)
    assert usual_ends(header(WindowCenter=600, WindowWidth=400), 0, 1, sample) == (400, 799)


@pytest.mark.parametrize("width", [0, -3])
def test_a_window_without_width_is_none(width: int) -> None:
    assert not has_own_way(header(WindowCenter=5, WindowWidth=width))
