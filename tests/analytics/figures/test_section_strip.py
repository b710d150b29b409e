from datetime import date

from analytics.answers.horizons import HORIZONS
from analytics.answers.sensitivity import Strip, answer
from analytics.endpoints.catalogue import LOSS, definitions_of
from analytics.figures.section_strip import section
from analytics.figures.sections import About
from tests.analytics.cohort import data, film
from tests.analytics.figures.sheets import faults, words_of

ABOUT = About("index procedures", date(2026, 11, 25))


def strip(cases: int = 4) -> Strip:
    films = [film(2, 9.0, 8.8, procedure_id=case) for case in range(1, cases + 1)]
    films += [film(400, 14.0 if case == 1 else 9.2, 8.8, procedure_id=case) for case in (1, 2)]
    frames = data([{}] * cases, films if cases else ())
    return answer(frames, definitions_of(LOSS), HORIZONS["12m"])


def test_each_definition_is_a_line_with_its_counts_bounds_and_version() -> None:
    result = strip()
    made = section("rules", "Does it depend on the rule?", result, ABOUT, "rise-3mm")
    (table,) = made.tables
    rise = next(row for row in table.rows if row[0].startswith("rise-3mm: "))
    assert rise[1:4] == ("4", "2", "1")
    assert "(version" in rise[0]
    assert len(table.rows) == len(result.lines)
    assert made.sentence == result.sentence


def test_the_definition_that_stands_is_filled_and_nothing_is_cut() -> None:
    made = section("rules", "x", strip(), ABOUT, "rise-3mm")
    drawing = made.figures[0].drawing
    assert faults(drawing) == []
    assert "rise-3mm" in words_of(drawing)
    filled = [
        one for one in drawing.shapes if one.tag == "path" and one.attributes["fill"] != "#ffffff"
    ]
    assert len(filled) == 1


def test_where_nobody_can_be_judged_nothing_is_drawn() -> None:
    made = section("rules", "x", strip(0), ABOUT)
    assert made.figures == ()
    assert "Nobody can be judged" in made.sentence
