"""Public holidays differ between the parts of a country."""

from datetime import date

import pytest

from followup.rules.public_holidays import check_place, of_years


def test_two_parts_of_a_country_have_their_own_days() -> None:
    england, scotland = (of_years("GB", part, [2026]) for part in ("ENG", "SCT"))
    # The second of January and St Andrew's Day (30 November) are holidays in Scotland alone, Easter
    # Monday (6 April 2026) in England alone.
    assert date(2026, 1, 2) in scotland.keys() - england.keys()
    assert date(2026, 11, 30) in scotland.keys() - england.keys()
    assert date(2026, 4, 6) in england.keys() - scotland.keys()
    assert england[date(2026, 12, 25)] == scotland[date(2026, 12, 25)] == "Christmas Day"


def test_each_year_has_its_own_days_and_several_have_them_all() -> None:
    both = of_years("GB", "ENG", [2027, 2026])
    assert {on.year for on in both} == {2026, 2027}
    assert both == {**of_years("GB", "ENG", [2026]), **of_years("GB", "ENG", [2027])}


def test_a_whole_country_needs_no_part() -> None:
    check_place("NO", "")
    assert date(2026, 5, 17) in of_years("NO", "", [2026])


@pytest.mark.parametrize(
    ("country", "part", "words"),
    [
        ("QQ", "", "known for the country 'QQ'"),
        ("gb", "", "known for the country 'gb'"),
        ("GB", "BY", "'BY' is not a part of 'GB' .* ENG"),
    ],
)
def test_a_place_that_is_not_known_is_refused_in_words(country: str, part: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        of_years(country, part, [2026])
