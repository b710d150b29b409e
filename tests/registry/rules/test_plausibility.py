from decimal import Decimal
from typing import Any

import pytest

from registry.rules.plausibility import LIMITS, Finding, judge


@pytest.mark.parametrize("value", [240, 240.0, Decimal("240.0")])
def test_an_impossible_value_is_found_whatever_its_type(value: Any) -> None:
    assert judge({"abduction_deg": value}) == [
        Finding(
            "abduction_deg",
            impossible=True,
            message="240 degrees is not possible; expected 0 to 190 degrees",
        )
    ]


def test_an_unlikely_value_is_asked_about() -> None:
    (finding,) = judge({"ccd_injured_mm": Decimal("41.0")})
    assert not finding.impossible
    assert finding.message == "41 mm is unusual (usual: 3 to 35 mm); please check it"


@pytest.mark.parametrize("field", sorted(LIMITS))
def test_the_bounds_themselves_are_inside(field: str) -> None:
    limits = LIMITS[field]
    assert judge({field: limits.likely[0]}) == judge({field: limits.likely[1]}) == []
    ends = [*judge({field: limits.possible[0]}), *judge({field: limits.possible[1]})]
    assert not any(finding.impossible for finding in ends)


@pytest.mark.parametrize("field", sorted(LIMITS))
def test_just_outside_the_bounds_is_refused(field: str) -> None:
    low, high = LIMITS[field].possible
    found = [*judge({field: low - 0.05}), *judge({field: high + 0.05})]
    assert [finding.impossible for finding in found] == [True, True]


@pytest.mark.parametrize("field", sorted(LIMITS))
def test_what_is_likely_is_possible(field: str) -> None:
    limits = LIMITS[field]
    assert limits.possible[0] <= limits.likely[0] < limits.likely[1] <= limits.possible[1]


def test_what_is_missing_or_no_number_or_without_limits_passes() -> None:
    assert judge({"bmi_kg_m2": None, "age_years": "", "note": 7, "pain": "seven"}) == []


def test_every_doubtful_value_is_found() -> None:
    found = judge({"age_years": 130, "plate_holes": 6, "pain": 11})
    assert [finding.field for finding in found] == ["age_years", "pain"]
