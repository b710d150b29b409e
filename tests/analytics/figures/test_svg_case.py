from typing import Any

import pytest

from analytics.answers.case import CaseVerdict, judged
from analytics.endpoints.catalogue import DEFINITIONS, LOSS, definitions_of
from analytics.figures.svg import Drawing, to_svg
from analytics.figures.svg_case import RUST, caption, case_axis, described
from tests.analytics.cohort import data, film, on
from tests.analytics.figures.sheets import faults, words_of

LOST = [film(2, 9.0, 9.0), film(40, 9.6, 9.0), film(90, 13.2, 9.0), film(120, 13.3, 9.0)]


def verdict(films: list[Any], name: str = "rise-3mm", **case: Any) -> CaseVerdict:
    (found,) = judged(data([case], films), 1, [DEFINITIONS[name]])
    return found


def areas(sheet: Drawing) -> list[str]:
    return [one.attributes["fill"] for one in sheet.shapes if "fill-opacity" in one.attributes]


def test_the_time_in_which_it_turned_is_shaded_between_its_two_films() -> None:
    sheet = case_axis(verdict(LOST), on(0))
    assert faults(sheet) == []
    assert len(areas(sheet)) == 2
    assert {"0.6 mm", "4.2 mm", "operation"} <= set(words_of(sheet))
    marks = [one for one in sheet.shapes if one.attributes.get("stroke") == RUST]
    assert marks


def test_a_case_that_held_has_the_band_of_measurement_error_alone() -> None:
    assert len(areas(case_axis(verdict([film(2, 9.0), film(90, 9.4)]), on(0)))) == 1


def test_without_a_detectable_change_there_is_no_band() -> None:
    films = [film(2, 9.0, translation_pct=0), film(90, 9.0, translation_pct=5)]
    assert areas(case_axis(verdict(films, "fixation-failure"), on(0))) == []


def test_what_happened_later_stands_on_the_axis_without_hiding_another() -> None:
    later = [(on(100), "revision"), (on(101), "hardware out"), (on(102), "moved away")]
    sheet = case_axis(verdict(LOST[:2]), on(0), later)
    assert faults(sheet) == []
    assert {"operation", "revision", "hardware out", "moved away"} <= set(words_of(sheet))


@pytest.mark.parametrize("definition", definitions_of(LOSS), ids=lambda one: one.id)
def test_words_never_lie_over_each_other_however_many_films_there_are(definition: Any) -> None:
    many = [film(day, 9.0 + day / 100, 9.0, translation_pct=0) for day in range(2, 700, 12)]
    close = [film(2, 9.0, 9.0), film(3, 9.1, 9.0), film(4, 9.2, 9.0), film(720, 13.0, 9.0)]
    for films in (many, close, LOST, []):
        sheet = case_axis(verdict(films, definition.id), on(0), [(on(720), "hardware out")])
        assert faults(sheet) == []


def test_whoever_cannot_see_it_is_told_all_of_it() -> None:
    found = verdict([*LOST[:2], film(50, 12.0, view="ap"), *LOST[2:]])
    sheet = case_axis(found, on(0))
    assert sheet.detail == described(found)
    for words in (
        "Lost: on the Zanca film of 9 Apr 2024",
        "Day 50, AP film: another view than the first film (Zanca).",
        "Day 90, Zanca film: 4.2 mm, over the threshold.",
    ):
        assert words in sheet.detail
    assert f"<desc>{sheet.detail}</desc>" in to_svg(sheet)
    assert "Threshold: 3 mm." in caption(found)
