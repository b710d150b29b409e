import numpy as np
import pytest

from followup.exchange.pictures import shaded


@pytest.mark.parametrize("kind", [np.uint8, np.uint16, np.int16, np.float32])
def test_values_are_shaded_evenly_between_black_and_white(kind: type) -> None:
    values = np.array([[0, 10, 20, 35, 60, 110, 120]], dtype=kind)
    # Worked by hand: (value - 10) / 100 * 255, held between 0 and 255.
    assert shaded(values, 10, 110).tolist() == [[0, 0, 26, 64, 128, 255, 255]]


def test_one_value_alone_is_shown_and_divides_by_nothing() -> None:
    assert shaded(np.array([[5, 7]], dtype=np.uint16), 5, 5).tolist() == [[0, 255]]
