import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.answers import attendance
from analytics.answers.attendance import WAYS
from followup.selectors import sums
from tests.analytics.cohort import CUTOFF, data, on
from tests.analytics.followed import STEPS, review, reviews

END = pd.Timestamp(CUTOFF)


def test_the_ways_are_those_of_the_daily_sums() -> None:
    assert set(WAYS) == set(sums.WAYS)


def test_each_step_has_a_line_in_order_of_time_and_all_the_last() -> None:
    rows = [review("missed"), review("done_in_window", "6w"), review("lapsed", "3m")]
    found = attendance.lines(reviews(rows), data().cases, "step", END)
    assert [line.label for line in found] == ["6w", "3m", "12m", "all"]
    assert [line.planned for line in found] == [1, 1, 1, 3]
    assert found[0].counts["done_in_window"] == found[2].counts["missed"] == 1


def test_sites_and_months_are_lines_too() -> None:
    cohort = data([{}, {"site": "south"}])
    rows = reviews([review("missed"), review("open", "6w", procedure_id=2)])
    by_site = attendance.lines(rows, cohort.cases, "site", END)
    assert [(line.label, line.planned) for line in by_site] == [
        ("north", 1),
        ("south", 1),
        ("all", 2),
    ]
    by_month = attendance.lines(rows, cohort.cases, "month", END)
    assert [line.label for line in by_month] == ["2024-02", "2025-01", "all"]


def test_what_is_due_after_the_cut_off_is_one_line() -> None:
    rows = reviews([review("open", due_on=on(2000)), review("open", due_on=on(2100))])
    found = attendance.lines(rows, data().cases, "month", END)
    assert [(line.label, line.planned) for line in found] == [("later", 2), ("all", 2)]


def test_days_late_are_those_between_the_due_day_and_the_visit() -> None:
    rows = [
        review(day=365 - 5),
        review(day=365 + 10, procedure_id=2),
        review(day=365 + 30, procedure_id=3, entered_on=on(365 + 33)),
        review("missed", procedure_id=4),
    ]
    (*_, total) = attendance.lines(reviews(rows), data([{}] * 4).cases, "step", END)
    assert total.late is not None
    assert (total.late.n, total.late.median) == (3, 10)
    assert total.entered is not None
    assert (total.entered.lower, total.entered.median, total.entered.upper) == (0, 0, 1.5)


def test_a_number_opens_the_cases_behind_it() -> None:
    rows = reviews([review("missed", procedure_id=2), review("missed", "6w", procedure_id=1)])
    six, twelve, total = attendance.lines(rows, data([{}, {}]).cases, "step", END)
    assert (six.cases["missed"], twelve.cases["missed"]) == ((1,), (2,))
    assert set(total.cases["missed"]) == {1, 2}


def test_another_way_to_divide_them_is_refused() -> None:
    with pytest.raises(ValueError, match="by step, site, month, not by 'moon'"):
        attendance.lines(reviews([]), data().cases, "moon", END)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(list(WAYS)),
            st.sampled_from(list(STEPS)),
            st.integers(1, 5),
        ),
        max_size=30,
    )
)
def test_every_planned_review_stands_in_one_way(rows: list[tuple[str, str, int]]) -> None:
    frame = reviews([review(way, step, procedure_id=number) for way, step, number in rows])
    cohort = data([{}] * 5)
    for by in attendance.BY:
        found = attendance.lines(frame, cohort.cases, by, END)
        assert [line.difference for line in found] == [0] * len(found)
        assert sum(line.planned for line in found[:-1]) == found[-1].planned == len(rows)
        for way in WAYS:
            assert sum(line.counts[way] for line in found[:-1]) == found[-1].counts[way]


def test_a_way_that_is_not_known_shows_as_a_difference() -> None:
    (*_, total) = attendance.lines(reviews([review("vanished")]), data().cases, "step", END)
    assert total.difference == 1


def test_plain_rows_add_up() -> None:
    rows = reviews([review("missed"), review()])
    found = {by: attendance.lines(rows, data().cases, by, END) for by in ("step", "site")}
    plain = attendance.to_rows(found)
    assert [row["by"] for row in plain] == ["step", "step", "site", "site"]
    assert plain[-1]["planned"] == 2
    assert plain[-1]["difference"] == 0
    assert plain[-1]["median_days_late"] == 10
