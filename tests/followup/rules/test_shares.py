"""Wilson's interval against scipy, and at its ends."""

import pytest
from scipy.stats import binomtest

from followup.rules.shares import share


@pytest.mark.parametrize(
    ("number", "of"), [(0, 1), (1, 1), (0, 20), (20, 20), (3, 10), (63, 100), (511, 1000), (1, 997)]
)
def test_the_interval_is_that_of_the_reference(number: int, of: int) -> None:
    expected = binomtest(number, of).proportion_ci(method="wilson")
    found = share(number, of)
    assert found.estimate == number / of
    assert found.low == pytest.approx(expected.low, abs=1e-9)
    assert found.high == pytest.approx(expected.high, abs=1e-9)


def test_a_share_of_nobody_is_no_number() -> None:
    found = share(0, 0)
    assert (found.estimate, found.low, found.high) == (None, None, None)


def test_more_than_there_are_is_refused() -> None:
    with pytest.raises(ValueError, match="3 of 2"):
        share(3, 2)
