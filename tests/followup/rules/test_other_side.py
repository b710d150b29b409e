"""A motion exam beside the uninjured shoulder."""

from datetime import date

import pytest

from followup.rules.milestones import Measured, OtherSide
from followup.rules.other_side import beside

DAY = date(2026, 9, 4)
BEFORE = date(2026, 8, 1)


def other(uninjured: bool = True, mode: str = "active", **degrees: int) -> OtherSide:
    return OtherSide(uninjured, (Measured(BEFORE, mode, degrees),))


@pytest.mark.parametrize(
    ("found", "said", "behind"),
    [
        (140, "20 degrees behind", True),
        (141, "within measurement error (20 degrees)", False),
        (179, "within measurement error (20 degrees)", False),
        (180, "20 degrees further", False),
    ],
)
def test_a_difference_counts_from_what_two_examiners_differ_by(
    found: int, said: str, behind: bool
) -> None:
    (one,) = beside([Measured(DAY, "active", {"flexion": found})], other(flexion=160))
    assert one.sentence == f"active flexion {found}, other side 160 (01 Aug 2026): {said}"
    assert one.is_behind is behind


def test_each_movement_is_compared_by_itself() -> None:
    exam = Measured(DAY, "active", {"flexion": 100, "external_rotation": 40})
    both = beside([exam], other(flexion=160, abduction=150, external_rotation=45))
    assert [(one.movement, one.is_behind) for one in both] == [
        ("flexion", True),
        ("external_rotation", False),
    ]


@pytest.mark.parametrize(
    "reference", [other(uninjured=False, flexion=160), other(mode="passive", flexion=160), other()]
)
def test_what_is_no_reference_is_not_compared(reference: OtherSide) -> None:
    assert beside([Measured(DAY, "active", {"flexion": 100})], reference) == ()


def test_the_other_side_of_a_later_day_is_no_reference() -> None:
    later = OtherSide(True, (Measured(date(2026, 9, 5), "active", {"flexion": 160}),))
    assert beside([Measured(DAY, "active", {"flexion": 100})], later) == ()
