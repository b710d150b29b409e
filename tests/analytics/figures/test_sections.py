from datetime import date

from analytics.figures.sections import About, plain_table, written

ABOUT = About("index procedures at site north", date(2026, 11, 25))


def test_a_caption_says_method_definition_cohort_and_cut_off() -> None:
    assert ABOUT.caption("Rates by 12 months", "Wilson's interval.", "rise (version 1)") == (
        "Rates by 12 months. Wilson's interval. Definition: rise (version 1). "
        "Cohort: index procedures at site north. Data up to 25 Nov 2026."
    )


def test_a_caption_without_method_or_definition_leaves_no_gap() -> None:
    assert ABOUT.caption("Reasons", "") == (
        "Reasons. Cohort: index procedures at site north. Data up to 25 Nov 2026."
    )


def test_a_plain_table_has_its_numbers_to_the_right() -> None:
    rows = [{"group": "LP", "events": 3, "rate": 0.25}, {"group": "HP", "events": None, "rate": 1}]
    table = plain_table("x", "Rates.", {"group": "Group", "events": "Events", "rate": "Rate"}, rows)
    assert table.head == ("Group", "Events", "Rate")
    assert table.rows == (("LP", "3", "0.25"), ("HP", "", "1"))
    assert table.numbers == (1, 2)
    assert table.data == tuple(rows)


def test_a_cell_shows_nothing_for_what_is_missing_and_no_needless_digits() -> None:
    assert [written(value) for value in (None, "", 1 / 3, 12, date(2026, 1, 5), "a")] == [
        "",
        "",
        "0.333",
        "12",
        "05 Jan 2026",
        "a",
    ]
