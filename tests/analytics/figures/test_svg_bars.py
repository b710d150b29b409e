from analytics.figures.attendance import FATES, bar_words
from analytics.figures.svg_bars import attendance_bars, level_bars
from tests.analytics.figures.sheets import faults, words_of
from tests.analytics.figures.test_attendance import some
from tests.analytics.figures.test_function import LEVELS, found


def test_each_step_is_a_bar_with_its_number_and_the_key_names_every_part() -> None:
    sheet = attendance_bars(some())
    words = words_of(sheet)
    assert faults(sheet) == []
    assert words[:2] == ["6w", "4"]
    assert {fate.words for fate in FATES} <= set(words)
    assert sheet.words == bar_words(some())


def test_parts_are_told_apart_by_hatching_and_not_by_colour_alone() -> None:
    lines = [one for one in attendance_bars(some()).shapes if one.tag == "line"]
    slanted = [one for one in lines if one.attributes["x1"] != one.attributes["x2"]]
    slanted = [one for one in slanted if one.attributes["y1"] != one.attributes["y2"]]
    assert len(slanted) > 10


def test_hatching_stays_within_its_part() -> None:
    sheet = attendance_bars(some())
    for one in sheet.shapes:
        if one.tag == "line":
            assert 0 <= float(one.attributes["x1"]) <= float(one.attributes["x2"]) <= sheet.width


def test_levels_go_from_dark_to_light_with_their_numbers() -> None:
    sheet = level_bars(found("internal_rotation", LEVELS))
    assert faults(sheet) == []
    assert words_of(sheet)[:2] == ["12 months", "4"]
    assert {"thigh", "T7", "2"} <= set(words_of(sheet))
