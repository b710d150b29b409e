"""What two readings differ by although nothing has changed."""

import pytest

from analytics.endpoints import catalogue
from followup.rules.measurement_error import MDC_MM, is_within_error


def test_a_smaller_change_is_within_error_in_either_direction() -> None:
    assert is_within_error(1.9)
    assert is_within_error(-1.9)
    assert not is_within_error(2.0)
    assert not is_within_error(-2.4)


def test_a_site_may_know_a_smaller_one() -> None:
    assert not is_within_error(1.2, 1.2)
    assert is_within_error(1.1, 1.2)


def test_what_rounding_leaves_is_no_change() -> None:
    # 11.2 - 9.2 is a little less than 2 in binary.
    assert not is_within_error(11.2 - 9.2)


def test_it_must_be_above_nought() -> None:
    with pytest.raises(ValueError, match="above 0 mm, got 0"):
        is_within_error(1, 0)


def test_the_shipped_definitions_assume_the_same() -> None:
    assert catalogue.MDC_MM == MDC_MM
