from dataclasses import replace
from datetime import date

from analytics.figures.section_signals import SignalLine, section

TODAY = date(2026, 11, 25)
LINE = SignalLine(
    chart="Loss of reduction, North Hospital",
    cases=41,
    events=7,
    expected=3.24,
    raised_on=date(2026, 10, 2),
    owner="Quentin",
    due_on=date(2026, 11, 1),
    state="Raised",
)


def test_open_signals_stand_with_their_numbers_owner_and_day() -> None:
    made = section([LINE, replace(LINE, due_on=date(2026, 12, 1))], TODAY)
    assert made.sentence.startswith("Open signals: 2; past their day: 1.")
    assert made.tables[0].rows[0] == (
        "Loss of reduction, North Hospital",
        "41",
        "7",
        "3.2",
        "02 Oct 2026",
        "Quentin",
        "01 Nov 2026, late",
        "Raised",
    )
    assert made.tables[0].rows[1][6] == "01 Dec 2026"


def test_where_none_is_open_it_says_so() -> None:
    assert section([], TODAY).sentence == "No signal is open at these sites."
