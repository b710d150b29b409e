"""Translation on the films of fractures, beside everything else of a case."""

import statistics
from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import pytest

from analytics.answers import outcomes
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import DEFINITIONS
from analytics.simulation import cohort
from analytics.simulation.cohort import generate
from analytics.simulation.draws import TRANSLATION, Draws
from analytics.simulation.films import LOSS_GROWS_DAYS
from analytics.simulation.records import SimCase, SimFilm
from analytics.simulation.translation import RECORDED_SHARE, STEP_PCT, with_translation
from tests.analytics.simulation.frames import data_of

UNTIL = date(2026, 11, 25)
FAILS, RISE, YEAR = DEFINITIONS["fixation-failure"], DEFINITIONS["rise-3mm"], HORIZONS["12m"]


@pytest.fixture(scope="module")
def cases() -> list[SimCase]:
    return list(generate(1200, sites=2, seed=11, until=UNTIL))


def films_of(case: SimCase) -> Iterator[SimFilm]:
    visits = (*case.visits, *(visit for later in case.later for visit in later.visits))
    yield from (visit.film for visit in visits if visit.film is not None)


def is_fracture(case: SimCase) -> bool:
    return bool(case.injury["kind"] == "lateral_clavicle")


def without(case: SimCase) -> SimCase:
    """Return the case as it would be had nobody recorded translation."""

    def bare(film: SimFilm | None) -> SimFilm | None:
        if film is None:
            return None
        read = tuple(replace(one, translation_pct=None) for one in film.readings)
        return replace(film, readings=read)

    visits = tuple(replace(one, film=bare(one.film)) for one in case.visits)
    later = tuple(
        replace(one, visits=tuple(replace(seen, film=bare(seen.film)) for seen in one.visits))
        for one in case.later
    )
    return replace(case, visits=visits, later=later)


def test_nothing_else_of_a_case_changes(cases: list[SimCase]) -> None:
    for case in cases[:200]:
        plain = without(case)
        assert with_translation(Draws(11, case.number, TRANSLATION), plain) == case
        assert without(with_translation(Draws(99, case.number, TRANSLATION), plain)) == plain


def test_the_cases_are_those_that_there_were_without_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(cohort, "with_translation", lambda rng, case: case)
    plain = list(generate(60, sites=2, seed=11, until=UNTIL))
    monkeypatch.undo()
    assert plain == [without(case) for case in generate(60, sites=2, seed=11, until=UNTIL)]


def test_only_fractures_have_it_and_not_on_every_reading(cases: list[SimCase]) -> None:
    joints = [film for case in cases if not is_fracture(case) for film in films_of(case)]
    assert {read.translation_pct for film in joints for read in film.readings} == {None}
    reads = [
        read.translation_pct
        for case in cases
        if is_fracture(case)
        for film in films_of(case)
        for read in film.readings
    ]
    told = [read for read in reads if read is not None]
    assert len(told) / len(reads) == pytest.approx(RECORDED_SHARE, abs=0.02)
    assert {read % STEP_PCT for read in told} == {0}
    assert (min(told), max(told) <= 200) == (0, True)


def test_translation_grows_where_reduction_is_lost_and_only_there(cases: list[SimCase]) -> None:
    held, lost = [], []
    for case in cases:
        if not is_fracture(case):
            continue
        grown = (case.true_loss_day or 0) + LOSS_GROWS_DAYS
        for visit in case.visits:
            read = visit.film.readings[0].translation_pct if visit.film else None
            day = (visit.on - case.performed_on).days
            if read is None:
                continue
            if case.true_loss_day is None or day < case.true_loss_day:
                held.append(read)
            elif day >= grown:
                lost.append(read)
    assert statistics.fmean(held) < 15
    # A rise of 5 to 10 mm of a shaft of 11 mm, above what was left at the operation.
    assert statistics.fmean(lost) - statistics.fmean(held) == pytest.approx(68, abs=8)
    assert sum(read >= 50 for read in held) / len(held) < 0.01


def test_the_failure_of_a_fixation_can_be_judged_and_is_rarer_than_a_rise(
    cases: list[SimCase],
) -> None:
    data = data_of(cases, UNTIL)
    fails, rises = (outcomes.answer(data, rule, YEAR).total for rule in (FAILS, RISE))
    fractures = sum(is_fracture(case) for case in cases)
    assert fails.evaluable > fractures / 3
    assert fails.rate is not None
    assert rises.rate is not None
    assert 0.02 < fails.rate.estimate < rises.rate.estimate


def test_whoever_fails_by_translation_or_hardware_has_lost_in_truth(cases: list[SimCase]) -> None:
    data = data_of(cases, UNTIL)
    failed = outcomes.answer(data, FAILS, YEAR).total.cases["events"]
    truly = [cases[number].true_loss_day is not None for number in failed]
    assert sum(truly) / len(truly) > 0.95
