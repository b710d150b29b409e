"""The true rates, and the estimates of 20,000 simulated procedures held against them.

Tolerances are Monte-Carlo: an estimate is taken to be near when it lies within four standard errors
of the truth. With some sixty comparisons that fails by chance less than once in 250 seeds, and the
seed is fixed.
"""

from datetime import date
from math import exp, sqrt

import numpy as np
import pytest

from analytics.answers import outcomes
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import DEFINITIONS
from analytics.endpoints.definition import Data
from analytics.estimators.competing import cumulative_incidence
from analytics.estimators.proportions import wilson
from analytics.estimators.survival import kaplan_meier
from analytics.simulation import attendance, truth
from analytics.simulation.cohort import generate
from analytics.simulation.records import SimCase
from analytics.simulation.truth import END_DAY, TRUTH
from tests.analytics.simulation.frames import data_of

UNTIL = date(2026, 11, 25)
ERRORS = 4.0


@pytest.fixture(scope="module")
def cases() -> list[SimCase]:
    return list(generate(20_000, sites=2, seed=5, until=UNTIL, years=8))


@pytest.fixture(scope="module")
def read(cases: list[SimCase]) -> Data:
    """Give the cohort as a service sees it: with errors of reading and with what was missed."""
    return data_of(cases, UNTIL)


def of_type(cases: list[SimCase], code: str) -> list[SimCase]:
    return [case for case in cases if case.construct_type == code]


def near(estimate: float, known: float, number: int) -> bool:
    """Say whether a share of so many comes within Monte-Carlo error of a known one."""
    return abs(estimate - known) <= ERRORS * sqrt(known * (1 - known) / number)


def followed(case: SimCase) -> int:
    """Return for how many days a case could have been seen, had it come to every step."""
    return ((case.status_on or UNTIL) - case.performed_on).days


def test_losses_come_early_and_add_up_to_the_stated_share() -> None:
    for code, known in TRUTH.items():
        assert truth.loss_by(code, 0) == 0
        assert truth.loss_by(code, END_DAY) == pytest.approx(known.loss_24m)
        assert truth.loss_by(code, END_DAY + 500) == pytest.approx(known.loss_24m)
    whole = 1 - exp(-END_DAY / 90)
    assert truth.loss_by("LP", 90) == pytest.approx(0.15 * (1 - exp(-1)) / whole)


def test_complications_are_events_nonunions_and_revised_losses() -> None:
    assert truth.complication_by("LP", 0) == 0
    # 1 - (1 - 0.3)(1 - 0.06)(1 - 0.3 x 0.1475), by hand for the plate alone at a year
    assert truth.complication_by("LP", 365) == pytest.approx(0.3709, abs=5e-4)
    assert truth.nonunion_by("CC-B", 182) == 0
    assert truth.nonunion_by("CC-B", 183) == pytest.approx(0.03 * 0.25)


def test_two_readings_of_a_shoulder_that_held_seldom_differ_by_more_than_the_threshold() -> None:
    # P(Z > (3 - 0.2) / (0.7 sqrt 2)) = P(Z > 2.828) = 0.00234, from a table of the normal curve
    assert truth.misread_share() == pytest.approx(0.00234, abs=5e-5)


def test_every_known_rate_is_printed_with_its_source_or_the_word_that_it_is_invented() -> None:
    rates = truth.known_rates()
    assert len(rates) == len(TRUTH) * len(truth.RATES)
    assert all(rate.source for rate in rates)
    head, *lines = truth.table()
    assert [line[0] for line in lines] == list(TRUTH)
    assert all(len(line) == len(head) for line in lines)
    assert lines[0][head.index("24m")] == "15.0%"


def test_a_construct_type_that_is_not_simulated_is_an_error() -> None:
    with pytest.raises(KeyError):
        truth.truth_of("PLATE-9")


def test_shares_of_construct_types_add_up() -> None:
    assert sum(known.share for known in TRUTH.values()) == pytest.approx(1)


@pytest.mark.parametrize("code", TRUTH)
def test_each_known_rate_is_found_again_in_the_cases(cases: list[SimCase], code: str) -> None:
    mine = of_type(cases, code)
    known = TRUTH[code]
    lost = sum(case.true_loss_day is not None for case in mine)
    assert near(lost / len(mine), known.loss_24m, len(mine))
    fractures = [case for case in mine if case.injury["kind"] == "lateral_clavicle"]
    assert near(len(fractures) / len(mine), known.fracture, len(mine))
    united = sum(case.true_union_day is not None for case in fractures)
    assert near(united / len(fractures), known.union, len(fractures))


@pytest.mark.parametrize("code", TRUTH)
def test_wilson_over_the_wholly_followed_finds_the_losses(cases: list[SimCase], code: str) -> None:
    whole = [case for case in of_type(cases, code) if followed(case) > END_DAY]
    lost = sum(case.true_loss_day is not None for case in whole)
    rate = wilson(lost, len(whole), level=0.9999)
    assert rate.low <= TRUTH[code].loss_24m <= rate.high


def times(cases: list[SimCase]) -> tuple[np.ndarray, np.ndarray]:
    """Return the day of each loss, or the last day on which there was none, and whether lost."""
    days, lost = [], []
    for case in cases:
        end, day = followed(case), case.true_loss_day
        happened = day is not None and day <= end
        days.append(day if happened and day is not None else end)
        lost.append(happened)
    return np.array(days, dtype=float), np.array(lost)


@pytest.mark.parametrize("horizon", truth.HORIZON_DAYS)
@pytest.mark.parametrize("code", TRUTH)
def test_the_curves_come_near_the_true_losses(
    cases: list[SimCase], code: str, horizon: str
) -> None:
    days, lost = times(of_type(cases, code))
    day = truth.HORIZON_DAYS[horizon]
    known = truth.truth_of(code).loss[horizon]
    curve = kaplan_meier(days, lost)
    row = curve.loc[:day].iloc[-1]
    assert abs((1 - row["survival"]) - known) <= ERRORS * row["std_error"]
    incidence = cumulative_incidence(days, lost.astype(int), cause=1).loc[:day].iloc[-1]
    assert incidence["incidence"] == pytest.approx(1 - row["survival"], abs=1e-9)


@pytest.mark.parametrize("horizon", ["12m", "24m"])
def test_the_incidence_of_complications_comes_near_the_truth(read: Data, horizon: str) -> None:
    answer = outcomes.answer(read, DEFINITIONS["any-complication"], HORIZONS[horizon])
    for row in answer.rows:
        found = row.incidence.estimate
        assert found is not None
        known = truth.complication_by(row.group, HORIZONS[horizon].last_day)
        error = (found.high - found.low) / (2 * 1.96)
        assert abs(found.estimate - known) <= ERRORS * error, row.group


def test_films_without_error_find_the_losses_of_two_years(cases: list[SimCase]) -> None:
    data = data_of(cases, UNTIL, without_error=True, planned_only=True)
    answer = outcomes.answer(data, DEFINITIONS["rise-3mm"], HORIZONS["24m"])
    for row in answer.rows:
        found = row.incidence.estimate
        assert found is not None
        error = (found.high - found.low) / (2 * 1.96)
        assert abs(found.estimate - TRUTH[row.group].loss_24m) <= ERRORS * error, row.group


@pytest.mark.parametrize("horizon", truth.HORIZON_DAYS)
def test_the_bounds_hold_the_true_share_of_losses(read: Data, horizon: str) -> None:
    answer = outcomes.answer(read, DEFINITIONS["rise-3mm"], HORIZONS[horizon])
    for row in answer.rows:
        known = truth.truth_of(row.group).loss[horizon]
        assert row.bounds is not None
        assert row.bounds.low <= known <= row.bounds.high, row.group


def test_judging_only_who_came_back_makes_the_losses_look_worse(read: Data) -> None:
    """Whoever was lost is known without coming at two years; whoever held has to come."""
    answer = outcomes.answer(read, DEFINITIONS["rise-3mm"], HORIZONS["24m"])
    for row in answer.rows:
        assert row.rate is not None
        assert row.incidence.estimate is not None
        assert row.rate.estimate > row.incidence.estimate.estimate > TRUTH[row.group].loss_24m


def test_attendance_of_the_cohort_is_what_is_stated(cases: list[SimCase]) -> None:
    plain = [
        case
        for case in cases
        if case.status == "active"
        and case.first_later("revision_fixation") is None
        and followed(case) > END_DAY + 15
    ]
    stay = 1 - attendance.LOST_SHARE
    for step in attendance.FIXATION_STEPS:
        came = sum(any(one.step == step.code for one in case.visits) for case in plain)
        # Who is lost from a day on, evenly from day 60 to 1000, comes to what lies before it.
        still = min(1.0, max(0.0, (1000 - step.due) / (1000 - 60)))
        wanted = step.share * (stay + attendance.LOST_SHARE * still)
        assert came / len(plain) == pytest.approx(wanted, abs=0.02), step.code
