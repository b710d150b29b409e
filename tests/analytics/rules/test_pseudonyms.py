import hmac
from datetime import date

import pytest

from analytics.rules import pseudonyms

ONE, OTHER = b"1" * 32, b"2" * 32


def test_a_pseudonym_is_the_same_in_one_project_and_another_in_the_next() -> None:
    mine = pseudonyms.pseudonym(ONE, "patient", "ABCD2345")
    assert mine == pseudonyms.pseudonym(ONE, "patient", "ABCD2345")
    assert len(mine) == pseudonyms.LETTERS
    others = {
        pseudonyms.pseudonym(OTHER, "patient", "ABCD2345"),
        pseudonyms.pseudonym(ONE, "case", "ABCD2345"),
        pseudonyms.pseudonym(ONE, "patient", "ABCD2346"),
    }
    assert mine not in others
    assert len(others) == 3


def test_a_pseudonym_is_a_keyed_hash_of_what_it_stands_for() -> None:
    # RFC 4231, test case 2: HMAC-SHA256 of this key and text begins with 5bdcc146bf60754e6a04.
    said = hmac.new(b"Jefe", b"what do ya want for nothing?", "sha256").hexdigest()
    assert said.startswith("5bdcc146bf60754e6a04")
    assert pseudonyms.pseudonym(b"Jefe", "what", " do ya want for nothing?") != "lpomcrv7mb2u42qe"
    # The same text with the colon that stands between kind and value.
    kept = hmac.new(b"Jefe", b"a:b", "sha256").digest()[:10]
    assert pseudonyms.base64.b32decode(pseudonyms.pseudonym(b"Jefe", "a", "b").upper()) == kept


def test_days_go_back_by_one_to_a_year_and_differ_between_projects() -> None:
    mine = [pseudonyms.days_back(ONE, str(n)) for n in range(3000)]
    theirs = [pseudonyms.days_back(OTHER, str(n)) for n in range(3000)]
    assert (min(mine), max(mine)) == (1, 365)
    # By chance alone one in 365 is alike.
    assert sum(a == b for a, b in zip(mine, theirs, strict=True)) < 25


@pytest.mark.parametrize(
    ("day", "month", "quarter"),
    [
        (date(2026, 1, 1), "2026-01", "2026-Q1"),
        (date(2026, 3, 31), "2026-03", "2026-Q1"),
        (date(2026, 4, 1), "2026-04", "2026-Q2"),
        (date(2026, 12, 31), "2026-12", "2026-Q4"),
    ],
)
def test_a_day_is_told_by_its_month_or_quarter(day: date, month: str, quarter: str) -> None:
    assert (pseudonyms.month_of(day), pseudonyms.quarter_of(day)) == (month, quarter)


@pytest.mark.parametrize(
    ("age", "band"),
    [(0, "0-9"), (49, "40-49"), (50, "50-59"), (89, "80-89"), (90, "90+"), (104, "90+")],
)
def test_ages_are_told_by_ten_years_and_the_very_old_together(age: int, band: str) -> None:
    assert pseudonyms.band_of(age) == band
