from datetime import date

from analytics.figures.section_actions import ActionLine, section

TODAY = date(2026, 11, 25)
HELD = date(2026, 8, 20)
LATE = ActionLine("Film both sides.", "Quentin", date(2026, 11, 1), HELD, "Open", is_open=True)
DONE = ActionLine("Ask at home.", "Selma", date(2026, 9, 1), HELD, "Done: they do", is_open=False)
STANDS = ActionLine("Hook plates as before.", "", None, HELD, "Stands", is_open=False)


def test_what_is_open_and_overdue_is_counted_and_said() -> None:
    made = section([LATE, DONE, STANDS], HELD, TODAY)
    assert made.sentence == (
        "The last meeting was held on 20 Aug 2026. Of 3 decisions, 1 are open, 1 of them overdue."
    )
    assert made.tables[0].rows == (
        ("Film both sides.", "Quentin", "01 Nov 2026", "20 Aug 2026", "Open, overdue"),
        ("Ask at home.", "Selma", "01 Sep 2026", "20 Aug 2026", "Done: they do"),
        ("Hook plates as before.", "nobody", "", "20 Aug 2026", "Stands"),
    )


def test_without_an_earlier_meeting_it_says_so() -> None:
    made = section([], None, TODAY)
    assert "No earlier meeting" in made.sentence
    assert made.tables == ()
