"""Generating an invented service."""

from collections import Counter
from datetime import date, timedelta
from itertools import islice

import pytest

from analytics.simulation import attendance, setting
from analytics.simulation.cohort import MISTYPED, SHARES, BadRow, bad_rows, generate
from analytics.simulation.records import SimCase
from followup.rules.case_columns.catalogue import COLUMNS
from followup.rules.case_facts import ParsedCase
from followup.rules.case_rows import parse_row

UNTIL = date(2026, 11, 25)
NAMES = tuple(column.name for column in COLUMNS)
DEMO = list(
    generate(setting.DEMO_PROCEDURES, sites=setting.DEMO_SITES, seed=setting.DEMO_SEED, until=UNTIL)
)


def made(seed: int, procedures: int = 60) -> list[SimCase]:
    return list(generate(procedures, sites=2, seed=seed, until=UNTIL))


def test_the_same_seed_gives_the_same_cohort() -> None:
    assert made(4) == made(4)


def test_another_seed_gives_another_cohort() -> None:
    assert not any(one == other for one, other in zip(made(4), made(5), strict=True))


def test_a_case_does_not_depend_on_how_many_are_taken() -> None:
    assert list(islice(generate(60, sites=2, seed=4, until=UNTIL), 20)) == made(4)[:20]


def test_cases_come_in_order_over_the_years() -> None:
    days = [case.performed_on for case in DEMO]
    assert days == sorted(days)
    assert UNTIL - timedelta(days=1461) <= days[0]
    assert days[-1] <= UNTIL


@pytest.mark.parametrize("size", [(0, 1, 1), (1, 0, 1), (1, 1, 0)])
def test_an_empty_service_is_refused(size: tuple[int, int, int]) -> None:
    procedures, sites, years = size
    with pytest.raises(ValueError, match="at least one procedure, site and year"):
        generate(procedures, sites=sites, seed=1, until=UNTIL, years=years)


def test_constructs_and_sites_come_in_their_shares() -> None:
    cases = made(3, 6000)
    kinds = Counter(case.construct_type for case in cases)
    for code, share in SHARES.items():
        assert kinds[code] / 6000 == pytest.approx(share, abs=0.02)
    assert Counter(case.site for case in cases)[0] / 6000 == pytest.approx(0.5, abs=0.03)


def test_the_demo_has_everything_that_a_service_meets() -> None:
    assert len(DEMO) == 240
    assert {case.status for case in DEMO} == {"active", "died", "withdrawn", "moved"}
    kinds = {one.kind for case in DEMO for one in case.later}
    assert kinds == {"revision_fixation", "implant_removal", "washout"}
    again = [case for case in DEMO if case.returns_to is not None]
    sides = {case.injury["side"] == DEMO[case.returns_to or 0].injury["side"] for case in again}
    assert sides == {True, False}, "somebody hurt twice on one side, somebody on both"
    assert any(case.typed_again for case in again)
    assert any(case.site != DEMO[case.returns_to or 0].site for case in again)
    assert any(case.missed for case in DEMO)
    assert any(case.complications for case in DEMO)
    assert any(case.construct.departs for case in DEMO)


def test_the_demo_has_late_and_lost_patients() -> None:
    def is_late(case: SimCase) -> bool:
        closes = {step.code: step.closes for step in attendance.FIXATION_STEPS}
        return any(
            (visit.on - case.performed_on).days > closes[visit.step]
            for visit in case.visits
            if visit.step
        )

    def is_lost(case: SimCase) -> bool:
        old = (UNTIL - case.performed_on).days > 500
        seen = [(visit.on - case.performed_on).days for visit in case.visits]
        return old and case.status == "active" and not case.later and max(seen, default=0) < 150

    assert sum(is_late(case) for case in DEMO) > 10
    assert sum(is_lost(case) for case in DEMO) > 4


@pytest.mark.parametrize("later", range(7))
def test_on_whatever_day_a_demo_starts_somebody_is_expected(later: int) -> None:
    today = UNTIL + timedelta(days=later)
    cases = generate(240, sites=2, seed=setting.DEMO_SEED, until=today)
    assert any(booking.on == today for case in cases for booking in case.bookings)


def test_one_person_is_one_number_and_returns_once() -> None:
    cases = made(7, 3000)
    for case in cases:
        if case.returns_to is None:
            assert case.person == case.number
            continue
        first = cases[case.returns_to]
        assert case.person == first.person == first.number
        assert case.performed_on > first.performed_on
        assert (first.status, first.returns_to) == ("active", None)
        assert case.typed_again == (case.identity != first.identity)
        if case.injury["side"] != first.injury["side"]:
            assert case.injury["other_shoulder"] == "operated_before"
    assert sum(case.returns_to is not None for case in cases) > 60


def test_a_case_is_injured_before_it_is_operated() -> None:
    for case in made(2, 2000):
        injured = case.injury
        assert injured["injured_earliest"] <= injured["injured_latest"] <= case.performed_on


def test_cases_hold_for_a_service_of_many_sites() -> None:
    cases = list(generate(200, sites=7, seed=1, until=UNTIL, years=2))
    assert {case.site for case in cases} == set(range(7))
    assert min(case.performed_on for case in cases) >= UNTIL - timedelta(days=731)


# What the reader of rows says of each mistyped row.
SAID = {
    "before the injury": "is before injury_date",
    "born after the injury": "is before birth_date",
    "no such construct type": "is not known here",
    "no such day": "is not a possible date",
    "the day is missing": "lacks the day",
    "can be read in two ways": "can be read in two ways",
    "in the future": "is in the future",
    "further than a shoulder goes": "is not possible",
    "beyond the end of the scale": "is outside 0 to 10",
    "longer than a shoulder": "is not possible",
    "not a number": "is not a number",
    "no identifier": "must be given",
    "no name": "must be given",
    "no such side": "is not one of",
    "no such class": "is not one of",
    "the view is missing": "say the view of this film",
    "a length without a scale": "only on a calibrated film",
}
BAD = bad_rows(NAMES)


def read(row: dict[str, str]) -> object:
    return parse_row(2, row, known_construct_types=list(SHARES), known_surgeons=[], today=UNTIL)


@pytest.mark.parametrize("bad", BAD, ids=lambda bad: bad.wrong)
def test_a_mistyped_row_is_refused_for_its_one_fault_and_no_other(bad: BadRow) -> None:
    faults = read(bad.row)
    assert isinstance(faults, list)
    assert [fault.column for fault in faults] == [bad.column]
    assert SAID[bad.wrong] in faults[0].reason


def test_a_row_without_its_mistake_is_taken() -> None:
    good = {"sex": "female", **BAD[0].row, "procedure_date": "2025-03-06"}
    assert isinstance(read(good), ParsedCase)


def test_each_kind_of_mistake_is_made_once_in_the_columns_asked_for() -> None:
    assert {bad.wrong for bad in BAD} == set(SAID)
    assert len(BAD) == len(MISTYPED)
    assert all(tuple(bad.row) == NAMES for bad in BAD)
    assert len({bad.row["local_id"] for bad in BAD}) == len(BAD)
    assert bad_rows(NAMES, seed=3) != BAD
