from datetime import date

from analytics.figures.section_checks import section
from analytics.figures.sections import About
from tests.analytics.answers.test_checks import found

ABOUT = About("index procedures", date(2026, 11, 25), "site")
DAYS = (date(2025, 11, 25), date(2026, 11, 25))


def test_completeness_coding_and_case_mix_stand_with_their_numbers() -> None:
    stood = [("held", ""), ("event", ""), ("not_evaluable", "no_film"), ("not_eligible", "")]
    one = found([{"sex": "female"}] * 4, before=[{"sex": "male"}] * 3, states=stood)
    made = section("checks", "Are the data sound?", one, DAYS, "rise (version 1)", ABOUT)
    coding, mix = made.tables
    assert coding.rows[0] == ("Could be judged at the horizon", "2 of 3, 66.7% (20.8% to 93.9%)")
    assert coding.rows[1] == ("No comparable film at or after the horizon", "1")
    assert ("Female", "0 of 3", "4 of 4", "all against none, beyond") in mix.rows
    assert "operated from 25 Nov 2025 to 25 Nov 2026" in coding.caption
    assert "against the 3 before" in mix.caption


def test_nobody_before_is_said_and_no_fault() -> None:
    made = section("checks", "x", found([]), DAYS, "rise (version 1)", ABOUT)
    assert "nobody to count" in made.sentence
