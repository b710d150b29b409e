"""Check digits and statuses of the few LOINC codes: as read off a public look-up page of them."""

import pytest

from followup.exchange.fhir import observations
from registry.rules.fhir import loinc

# Every code of that page that is used, with the digit that stands behind its hyphen.
LISTED = (
    *("41299-9", "41316-1", "41387-2", "56044-1", "56046-6", "41301-3", "41302-1", "72514-3"),
    *("56840-2", "38208-5"),
)


@pytest.mark.parametrize("code", LISTED)
def test_the_check_digit_of_each_listed_code_holds(code: str) -> None:
    number, digit = code.split("-")
    assert loinc.check_digit(number) == int(digit)


@pytest.mark.parametrize("code", sorted({*loinc.ACTIVE, *loinc.REFUSED}))
def test_the_tables_hold_listed_codes_alone(code: str) -> None:
    assert code in LISTED


def test_a_wrong_digit_is_refused_with_the_right_one() -> None:
    assert "41299 ends in -9" in loinc.fault_in("41299-8")
    assert "all digits" in loinc.fault_in("4129A-8")
    assert "wrong check digit" in loinc.fault_in("41299")


@pytest.mark.parametrize("code", ["41301-3", "41302-1", "56840-2", "38208-5"])
def test_deprecated_and_discouraged_codes_are_refused(code: str) -> None:
    with pytest.raises(ValueError, match="is not used"):
        loinc.display_of(code)


def test_a_neighbour_with_a_right_digit_is_not_guessed() -> None:
    neighbour = f"41300-{loinc.check_digit('41300')}"
    with pytest.raises(ValueError, match="nothing is guessed"):
        loinc.display_of(neighbour)


def test_all_codes_that_go_out_are_in_use() -> None:
    sent = {*observations.MOTION_LOINC.values(), *observations.SCORE_LOINC.values()}
    assert all(loinc.display_of(code) for code in sent)
    assert sent == {"41299-9", "41387-2", "72514-3"}
