from analytics.figures.svg_intervals import panels
from tests.analytics.figures.sheets import faults, words_of
from tests.analytics.figures.test_intervals import found

GROUPS = {"LP": (15, 5, 0), "HP": (9, 3, 0), "TG": (9, 3, 0), "LP+A1": (9, 2, 0), "CC-B": (9, 1, 0)}


def test_each_group_has_a_plot_after_the_one_of_all_and_nothing_is_cut() -> None:
    sheet = panels(found(GROUPS))
    assert faults(sheet) == []
    heads = [words for words in words_of(sheet) if " of " in words]
    assert heads[0] == "all  14 of 65"
    assert heads[1:] == [
        "CC-B  1 of 10",
        "HP  3 of 12",
        "LP  5 of 20",
        "LP+A1  2 of 11",
        "TG  3 of 12",
    ]


def test_found_is_dashed_and_happened_is_solid_with_a_band() -> None:
    sheet = panels(found({"LP": (15, 5, 0)}))
    paths = [one for one in sheet.shapes if one.tag == "path"]
    dashed = [one for one in paths if "stroke-dasharray" in one.attributes]
    bands = [one for one in paths if one.attributes["fill"] != "none"]
    # Two plots, of all and of the one group, each with a band between two lines and a dashed line.
    assert (len(dashed), len(bands), len(paths)) == (2, 2, 8)


def test_the_words_are_the_finding() -> None:
    made = found({"LP": (15, 5, 0)})
    assert panels(made).words == made.sentence
