import calendar
import itertools
import json
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.windows import (
    StepPlan,
    Timing,
    Window,
    add_offset,
    check_steps,
    timing,
    window_for,
)

SHIPPED = json.loads(
    (Path(__file__).resolve().parents[3] / "fixtures" / "protocols.json").read_text()
)
DAYS = st.dates(date(2000, 1, 1), date(2060, 12, 31))


def step(
    code: str, value: int, unit: str = "weeks", *, before: int = 7, after: int = 7
) -> StepPlan:
    return StepPlan(code, value, unit, before, after)


def shipped_steps(protocol: dict[str, list[dict[str, object]]]) -> list[StepPlan]:
    names = StepPlan.__dataclass_fields__
    return [StepPlan(**{name: row[name] for name in names}) for row in protocol["steps"]]  # type: ignore[arg-type]


# Own arithmetic.
@pytest.mark.parametrize(
    ("start", "value", "unit", "end"),
    [
        (date(2026, 1, 31), 1, "months", date(2026, 2, 28)),
        (date(2026, 1, 31), 3, "months", date(2026, 4, 30)),
        (date(2026, 1, 31), 6, "weeks", date(2026, 3, 14)),
        (date(2026, 1, 31), 12, "weeks", date(2026, 4, 25)),
        (date(2026, 1, 31), 52, "weeks", date(2027, 1, 30)),
        (date(2026, 1, 31), 12, "months", date(2027, 1, 31)),
        (date(2024, 2, 29), 12, "months", date(2025, 2, 28)),
        (date(2024, 2, 29), 48, "months", date(2028, 2, 29)),
        (date(2026, 12, 30), 2, "days", date(2027, 1, 1)),
        (date(2026, 6, 5), 0, "days", date(2026, 6, 5)),
    ],
)
def test_an_offset_is_added_in_its_own_unit(start: date, value: int, unit: str, end: date) -> None:
    assert add_offset(start, value, unit) == end


def test_another_unit_is_refused_with_the_ones_that_are_known() -> None:
    with pytest.raises(ValueError, match="'years' is not a unit of offset; use days, weeks or"):
        add_offset(date(2026, 1, 31), 1, "years")


@given(start=DAYS, months=st.integers(0, 130))
def test_months_keep_the_day_or_end_at_the_last_of_a_short_month(start: date, months: int) -> None:
    end = add_offset(start, months, "months")
    assert (end.year - start.year) * 12 + end.month - start.month == months
    last = calendar.monthrange(end.year, end.month)[1]
    assert end.day == start.day or (end.day == last and last < start.day)


@given(start=DAYS, first=st.integers(0, 60), second=st.integers(0, 60))
def test_a_later_offset_never_ends_earlier(start: date, first: int, second: int) -> None:
    low, high = sorted((first, second))
    assert add_offset(start, low, "months") <= add_offset(start, high, "months")


def test_a_window_lies_around_its_due_day() -> None:
    assert window_for(date(2026, 6, 5), step("6w", 6, before=14, after=14)) == Window(
        date(2026, 7, 3), date(2026, 7, 17), date(2026, 7, 31)
    )


def test_a_window_never_opens_before_the_operation() -> None:
    window = window_for(date(2026, 6, 5), step("first", 2, "days", before=30, after=5))
    assert window.opens_on == date(2026, 6, 5)


@pytest.mark.parametrize(
    ("day", "inside"),
    [(2, False), (3, True), (17, True), (31, True)],
)
def test_the_first_and_the_last_day_are_inside(day: int, *, inside: bool) -> None:
    window = Window(date(2026, 7, 3), date(2026, 7, 17), date(2026, 7, 31))
    assert window.holds(date(2026, 7, day)) is inside
    assert not window.holds(date(2026, 8, 1))


@pytest.mark.parametrize(
    ("today", "expected"),
    [
        (date(2026, 7, 2), Timing.NOT_YET),
        (date(2026, 7, 3), Timing.IN_WINDOW),
        (date(2026, 7, 17), Timing.IN_WINDOW),
        (date(2026, 7, 18), Timing.LATE),
        (date(2026, 7, 23), Timing.LATE),
        (date(2026, 7, 24), Timing.ABOUT_TO_CLOSE),
        (date(2026, 7, 31), Timing.ABOUT_TO_CLOSE),
        (date(2026, 8, 1), Timing.CLOSED),
    ],
)
def test_the_timing_of_a_review_comes_from_its_dates(today: date, expected: Timing) -> None:
    window = Window(date(2026, 7, 3), date(2026, 7, 17), date(2026, 7, 31))
    assert timing(window, today) == expected


@given(start=DAYS, value=st.integers(0, 30), before=st.integers(0, 60), after=st.integers(0, 60))
def test_timing_only_moves_forward(start: date, value: int, before: int, after: int) -> None:
    order = list(Timing)
    window = window_for(start, step("one", value, before=before, after=after))
    seen = [
        timing(window, window.opens_on + timedelta(days=n))
        for n in range(-1, (window.closes_on - window.opens_on).days + 2)
    ]
    places = [order.index(one) for one in seen]
    assert places == sorted(places)
    assert seen[0] == Timing.NOT_YET
    assert seen[-1] == Timing.CLOSED


def test_steps_apart_are_taken_in_any_order() -> None:
    check_steps([step("12w", 12), step("2w", 2), step("6w", 6)])


def test_overlapping_windows_name_both_steps_and_a_day() -> None:
    with pytest.raises(ValueError, match=r"'2w' and '4w' overlap \(for an operation on 2023-01-01"):
        check_steps([step("2w", 2), step("4w", 4)])


def test_windows_that_meet_only_after_a_short_month_are_found() -> None:
    # Three months after 31 January are 89 days in a common year: the day on which week 12 closes.
    with pytest.raises(ValueError, match="for an operation on 2023-01-31"):
        check_steps([step("12w", 12, after=5), step("3m", 3, "months", before=0)])
    check_steps([step("12w", 12, after=4), step("3m", 3, "months", before=0)])


def test_two_steps_with_one_code_are_refused() -> None:
    with pytest.raises(ValueError, match="two steps have the same code"):
        check_steps([step("6w", 6), step("6w", 12)])


@pytest.mark.parametrize(
    ("faulty", "says"),
    [
        (step("x", -1), "'x': offset is -1; it goes from 0 to 1200"),
        (step("x", 10**9), "'x': offset is 1000000000"),
        (step("x", 6, before=-3), "'x': days before is -3"),
        (step("x", 6, after=5000), "'x': days after is 5000; it goes from 0 to 3650"),
    ],
)
def test_numbers_that_cannot_be_are_refused(faulty: StepPlan, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        check_steps([faulty])


@given(
    start=DAYS,
    first=st.integers(1, 26),
    after=st.integers(0, 60),
    second=st.integers(1, 24),
    before=st.integers(0, 60),
)
def test_what_passes_the_check_never_overlaps(
    start: date, first: int, after: int, second: int, before: int
) -> None:
    steps = [
        step("weeks", first, before=0, after=after),
        step("months", second, "months", before=before, after=0),
    ]
    try:
        check_steps(steps)
    except ValueError:
        return
    one, other = (window_for(start, each) for each in steps)
    assert one.closes_on < other.opens_on or other.closes_on < one.opens_on


@pytest.mark.parametrize("protocol", SHIPPED, ids=lambda row: row["name"])
def test_the_shipped_protocols_hold_for_every_day_of_four_years(
    protocol: dict[str, list[dict[str, object]]],
) -> None:
    steps = shipped_steps(protocol)
    check_steps(steps)
    for number in range(1461):
        windows = [window_for(date(2023, 1, 1) + timedelta(days=number), one) for one in steps]
        assert all(a.closes_on < b.opens_on for a, b in itertools.pairwise(windows))


def test_the_shipped_windows_lie_within_those_of_the_example_schedule() -> None:
    # Weeks and months of the schedule that the file gives as its example, from an operation on 5 June.
    steps = {one.code: one for one in shipped_steps(SHIPPED[0])}
    windows = {code: window_for(date(2026, 6, 5), one) for code, one in steps.items()}
    months = {
        "baseline": (date(2026, 6, 5), date(2026, 6, 12)),
        "6w": (date(2026, 7, 3), date(2026, 7, 31)),
        "6m": (date(2026, 11, 5), date(2027, 2, 5)),
        "12m": (date(2027, 4, 5), date(2027, 9, 5)),
        "24m": (date(2028, 3, 5), date(2028, 12, 5)),
    }
    for code, (first, last) in months.items():
        assert first <= windows[code].opens_on
        assert windows[code].closes_on <= last


def test_a_hook_plate_has_the_same_times_and_films_as_the_others() -> None:
    shipped = {(row["purpose"], row["construct_type"]): row for row in SHIPPED}
    everybody, hook = shipped["fixation", None], shipped["fixation", "HP"]
    assert shipped_steps(everybody) == shipped_steps(hook)
    films = [[one["film_views"] for one in row["steps"]] for row in (everybody, hook)]
    assert films[0] == films[1]


def test_every_horizon_has_one_step_and_every_step_a_source() -> None:
    for protocol in SHIPPED:
        horizons = [one["horizon"] for one in protocol["steps"] if one["horizon"]]
        wanted = ["6w", "3m", "6m", "12m", "24m"] if protocol["purpose"] == "fixation" else []
        assert horizons == wanted
        assert all(one["source_note"] for one in [protocol, *protocol["steps"]])
