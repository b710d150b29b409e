"""The operations that follow an index procedure."""

from datetime import date, timedelta

import pytest

from analytics.simulation import later, operations
from analytics.simulation.cohort import generate
from analytics.simulation.draws import Draws
from analytics.simulation.records import SimCase, SimLater

UNTIL = date(2026, 11, 25)
CASES = list(generate(3000, sites=2, seed=6, until=UNTIL))


def of_kind(kind: str) -> list[tuple[SimCase, SimLater]]:
    return [(case, one) for case in CASES for one in case.later if one.kind == kind]


def test_a_removal_starts_its_own_short_schedule() -> None:
    removals = of_kind("implant_removal")
    assert removals
    for case, one in removals:
        assert one.construct is None
        assert one.planned == (case.construct_type == "HP")
        assert {visit.step for visit in one.visits} <= {"r2w", "r3m"}
        assert not any(visit.hardware_in_place for visit in one.visits)
        assert all(visit.on > one.on for visit in one.visits)


def test_visits_after_a_removal_fall_on_days_of_their_own() -> None:
    for case in CASES:
        days = [visit.on for visit in case.visits]
        days += [visit.on for one in case.later for visit in one.visits]
        assert len(set(days)) == len(days)


def test_a_revision_puts_in_another_construct_and_starts_the_whole_schedule() -> None:
    revisions = of_kind("revision_fixation")
    assert revisions
    for case, one in revisions:
        assert one.construct is not None
        assert one.construct.construct_type == operations.REVISED_TO[case.construct_type]
        assert case.true_loss_day is not None
        assert (one.on - case.performed_on).days > case.true_loss_day
        assert all(visit.on < one.on for visit in case.visits)
        assert not any(visit.step.startswith("r") for visit in one.visits)
    assert any(len(one.visits) > 3 for _, one in revisions)


def test_nobody_is_revised_without_a_film_shortly_before() -> None:
    for case, one in of_kind("revision_fixation"):
        films = [visit.film for visit in case.visits if visit.film is not None and not visit.step]
        # Where the implant had been removed before, that has a film of its own.
        removals = [other.on for other in case.later if other.kind == "implant_removal"]
        days = [
            (on - film.taken_on).days for on, film in zip([*removals, one.on], films, strict=True)
        ]
        assert set(days) == {3}


@pytest.mark.parametrize(("day", "number"), [(9, 0), (10, 1), (11, 1)])
def test_a_deep_infection_is_washed_out_the_day_after_up_to_a_last_day(
    day: int, number: int
) -> None:
    start = date(2025, 1, 1)
    events = [
        {"kind": "infection_deep", "detected_on": start + timedelta(days=9)},
        {"kind": "nerve", "detected_on": start},
    ]
    done = later.washouts(Draws(1, 1), events, start + timedelta(days=day))
    assert [one.on for one in done] == [start + timedelta(days=10)] * number


def test_at_most_one_removal_and_one_revision_are_done() -> None:
    for case in CASES:
        kinds = [one.kind for one in case.later if one.kind != "washout"]
        assert len(set(kinds)) == len(kinds)
