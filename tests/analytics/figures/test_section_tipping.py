from datetime import date

from analytics.answers.tipping import answer, to_rows
from analytics.figures.section_tipping import section
from analytics.figures.sections import About, Section
from tests.analytics.figures.results import result

ABOUT = About("index procedures", date(2026, 11, 25))


def made(groups: dict[str, tuple[int, int, int]]) -> Section:
    found = answer(result(groups), None)
    return section("tipping", "What could it change?", found, "12 months", "rise (1)", ABOUT)


def test_groups_have_their_bounds_and_the_suppositions_their_rates() -> None:
    groups, supposed = made({"LP": (12, 6, 3), "HP": (15, 3, 0)}).tables
    assert groups.rows[1] == ("LP", "21", "18", "6", "3", "33.3", "28.6 to 42.9")
    assert groups.rows[2][:5] == ("all", "39", "36", "9", "3")
    assert groups.data == tuple(to_rows(answer(result({"LP": (12, 6, 3), "HP": (15, 3, 0)}), None)))
    assert supposed.rows[0] == ("had none", "0", "23.1%")
    assert supposed.rows[-1] == ("all had it", "3", "30.8%")


def test_where_everybody_was_judged_nothing_is_supposed_or_drawn() -> None:
    one = made({"LP": (5, 1, 0)})
    assert (len(one.tables), one.figures) == (1, ())
    assert "Everybody eligible was judged" in one.sentence


def test_an_empty_cohort_says_so() -> None:
    assert made({}).sentence == "Nobody is eligible at 12 months yet."
