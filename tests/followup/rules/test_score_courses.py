from datetime import date

import pytest

from followup.rules.score_courses import Scored, score_course
from followup.rules.scores.catalogue import INSTRUMENTS

OPERATED, TODAY = date(2026, 6, 5), date(2026, 11, 25)
JULY, NOVEMBER = date(2026, 7, 17), date(2026, 11, 25)


def words(code: str, *values: float) -> str:
    found = [Scored(day, value) for day, value in zip((JULY, NOVEMBER), values, strict=False)]
    return score_course(INSTRUMENTS[code], found, operated_on=OPERATED, today=TODAY).words


@pytest.mark.parametrize(
    ("code", "values", "says"),
    [
        ("quickdash", (45, 20.5), "20.5 on 25 Nov 2026, 45 on 17 Jul 2026; 24.5 better than last"),
        ("quickdash", (20, 30), "; 10 worse than last time"),
        ("constant", (50, 80), "; 30 better than last time"),
        ("constant", (80, 50), "; 30 worse than last time"),
        ("pain_nrs", (3, 3), "; as last time"),
        ("pain_nrs", (3,), "3 on 17 Jul 2026."),
        ("pain_nrs", (), "no score yet"),
    ],
)
def test_the_words_say_the_numbers_and_their_direction(
    code: str, values: tuple[float, ...], says: str
) -> None:
    assert says in words(code, *values)


def test_the_direction_is_said_and_the_chart_spans_the_range() -> None:
    course = score_course(
        INSTRUMENTS["quickdash"], [Scored(JULY, 45)], operated_on=OPERATED, today=TODAY
    )
    assert course.direction == "0 to 100, lower is better"
    assert course.chart is not None
    assert [tick.text for tick in course.chart.ticks] == ["0", "100"]
    other = score_course(INSTRUMENTS["constant"], [], operated_on=OPERATED, today=TODAY)
    assert other.direction == "0 to 100, higher is better"
    assert other.chart is None


def test_a_score_without_the_hardware_says_so() -> None:
    found = [Scored(NOVEMBER, 2, hardware_out=True)]
    course = score_course(INSTRUMENTS["pain_nrs"], found, operated_on=OPERATED, today=TODAY)
    assert "2 on 25 Nov 2026 (hardware out)" in course.words
