from dataclasses import replace
from datetime import date

from analytics.answers.funnels import only, sentence, to_rows
from analytics.figures.section_funnels import OFF, section
from analytics.figures.sections import About
from tests.analytics.figures.test_funnels import made

ABOUT = About("index procedures", date(2026, 11, 25), "site")
UNITS = {"Ann": (3, 40), "Bob": (4, 60), "Cleo": (2, 30)}
SURGEONS = replace(made(UNITS), of="surgeons")


def test_units_stand_in_the_order_of_their_names_and_only_surgeons_are_marked() -> None:
    found = section("funnels", "Does anybody stand apart?", [made(UNITS), SURGEONS], ABOUT)
    sites, surgeons = found.tables
    assert [row[0] for row in sites.rows] == ["Ann", "Bob", "Cleo"]
    assert sites.data == tuple(to_rows(made(UNITS)))
    assert [one.surgeons for one in found.tables] == [False, True]
    assert [one.surgeons for one in found.figures] == [False, True]
    assert surgeons.name == "funnels-loss-of-reduction-surgeons"
    assert sentence(SURGEONS) in found.figures[1].caption
    assert "Cohort: index procedures. Data up to 25 Nov 2026." in found.figures[1].caption


def test_without_the_right_the_own_point_and_the_limits_alone_are_shown() -> None:
    found = section("funnels", "x", [only(SURGEONS, "Bob")], ABOUT)
    assert [row[0] for row in found.tables[0].rows] == ["Bob"]
    assert "Ann" not in str(found)
    assert "Cleo" not in str(found)


def test_what_is_refused_says_why_and_what_is_off_says_so() -> None:
    found = section("funnels", "x", [made({"alone": (3, 40)})], ABOUT)
    assert (found.figures, found.tables, found.methods) == ((), (), ())
    assert found.notes[0] == OFF
    assert "A funnel sets several sites beside each other" in found.notes[1]
