from analytics.figures.svg_function import small_plots
from tests.analytics.figures.sheets import words_of
from tests.analytics.figures.test_function import FLEXION, found


def test_each_measure_has_a_plot_and_the_key_names_the_groups() -> None:
    one = found("flexion", FLEXION)
    sheet = small_plots([one, one, one], 1)
    words = words_of(sheet)
    assert words[:2] == ["HP", "LP"]
    assert words.count("Flexion: higher is better") == 3
    assert "12 months" in words


def test_a_group_of_fewer_than_the_minimum_is_not_drawn() -> None:
    def symbols(least: int) -> int:
        sheet = small_plots([found("flexion", FLEXION)], least)
        return sum(one.tag == "path" and one.attributes["fill"] != "none" for one in sheet.shapes)

    # The key shows both groups; of the two points one is left out.
    assert (symbols(1), symbols(5)) == (4, 3)
