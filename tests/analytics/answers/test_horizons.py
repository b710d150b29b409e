import itertools
from datetime import date
from math import inf, isnan
from typing import Any

import numpy as np
import pandas as pd
import pytest

from analytics.answers.horizons import HORIZONS, STATES, due_on, intervals, states_at, times
from analytics.endpoints.catalogue import DEFINITIONS, apply
from analytics.endpoints.definition import REASONS
from tests.analytics.cohort import CUTOFF, data, film, harm, on

YEAR = HORIZONS["12m"]
RISE, UNION, ANY = (DEFINITIONS[name] for name in ("rise-3mm", "union-film", "any-complication"))
FIRST = film(2, 9.0)
DIED = {"patient_status": "died", "status_on": on(70)}


def state(
    case: dict[str, Any],
    films: list[dict[str, Any]],
    definition: Any = RISE,
    harms: "list[dict[str, Any]] | tuple[()]" = (),
    cutoff: date = CUTOFF,
) -> tuple[str, str]:
    given = data([case], films, harms, cutoff)
    row = states_at(apply(definition, given), given.cases, YEAR, pd.Timestamp(cutoff)).loc[1]
    return row["state"], row["reason"]


def test_horizons_are_ordered_and_their_windows_do_not_overlap() -> None:
    rows = list(HORIZONS.values())
    for one, next_one in itertools.pairwise(rows):
        assert one.days + one.after_days < next_one.days - next_one.before_days
    assert [row.code for row in rows] == ["6w", "3m", "6m", "12m", "24m"]


def test_months_are_those_of_the_calendar_and_weeks_are_days() -> None:
    cases = data([{"performed_on": date(2024, 2, 29)}, {"performed_on": date(2023, 8, 31)}]).cases
    assert due_on(cases, HORIZONS["12m"]).dt.date.tolist() == [date(2025, 2, 28), date(2024, 8, 31)]
    assert due_on(cases, HORIZONS["6m"]).dt.date.tolist() == [date(2024, 8, 29), date(2024, 2, 29)]
    assert due_on(cases, HORIZONS["6w"]).dt.date.tolist() == [date(2024, 4, 11), date(2023, 10, 12)]


def test_a_case_is_eligible_from_the_very_day_of_the_horizon() -> None:
    assert state({}, [FIRST], cutoff=date(2025, 1, 9)) == ("not_eligible", "")
    assert state({}, [FIRST], cutoff=date(2025, 1, 10)) == ("not_evaluable", "window_open")


def test_an_event_before_the_horizon_does_not_make_a_case_eligible_early() -> None:
    assert state({}, [FIRST, film(90, 14.0)], cutoff=date(2024, 6, 1)) == ("not_eligible", "")


@pytest.mark.parametrize(
    ("day", "expected"),
    [
        (305, ("not_evaluable", "no_film")),
        (306, ("held", "")),
        (366, ("held", "")),
        (800, ("held", "")),
    ],
)
def test_a_film_from_the_start_of_the_window_on_shows_that_it_held(
    day: int, expected: tuple[str, str]
) -> None:
    assert state({}, [FIRST, film(day, 9.1)]) == expected


@pytest.mark.parametrize(
    ("day", "expected"),
    [
        (40, ("event", "")),
        (456, ("event", "")),
        (457, ("not_evaluable", "between")),
    ],
)
def test_a_loss_found_by_the_end_of_the_window_counts_for_its_horizon(
    day: int, expected: tuple[str, str]
) -> None:
    assert state({}, [FIRST, film(day, 14.0)]) == expected


def test_a_loss_after_the_window_leaves_a_case_held_that_held_in_it() -> None:
    assert state({}, [FIRST, film(360, 9.1), film(700, 14.0)]) == ("held", "")


@pytest.mark.parametrize(
    ("case", "expected"),
    [
        ({"revised_on": on(200)}, ("competing", "")),
        ({"patient_status": "died", "status_on": on(200)}, ("competing", "")),
        ({"revised_on": on(400)}, ("not_evaluable", "no_film")),
        ({"patient_status": "withdrawn", "status_on": on(200)}, ("not_evaluable", "withdrawn")),
        ({"patient_status": "moved", "status_on": on(200)}, ("not_evaluable", "moved")),
        ({"patient_status": "moved", "status_on": on(600)}, ("not_evaluable", "no_film")),
        ({"removed_on": on(120), "planned_removal": True}, ("not_evaluable", "no_film")),
    ],
)
def test_what_ended_the_watch_decides_a_case_that_held_so_far(
    case: dict[str, Any], expected: tuple[str, str]
) -> None:
    assert state(case, [FIRST, film(90, 9.1)]) == expected


def test_a_loss_before_a_revision_is_a_loss_and_not_a_revision() -> None:
    assert state({"revised_on": on(120)}, [FIRST, film(90, 14.0)]) == ("event", "")


def test_a_film_after_a_revision_in_the_window_does_not_show_that_it_held() -> None:
    case = {"revised_on": on(380)}
    assert state(case, [FIRST, film(90, 9.1), film(400, 9.1)]) == ("not_evaluable", "no_film")


def test_a_case_that_cannot_be_judged_is_not_made_judged_by_a_death() -> None:
    died = {"patient_status": "died", "status_on": on(200)}
    assert state(died, [film(90, 9.0)]) == ("not_evaluable", "no_baseline")


@pytest.mark.parametrize("name", ["union-film", "nonunion-6m", "fixation-failure"])
def test_a_torn_joint_is_in_no_denominator_of_union(name: str) -> None:
    joint = {"injury_kind": "ac_joint"}
    assert state(joint, [film(90, union="united")], DEFINITIONS[name]) == ("not_eligible", "")


@pytest.mark.parametrize(
    ("seen", "harms", "expected"),
    [
        (400, [], ("held", "")),
        (200, [], ("not_evaluable", "not_seen")),
        (200, [harm(100)], ("event", "")),
        (500, [harm(480)], ("held", "")),
        (500, [harm(440)], ("event", "")),
    ],
)
def test_a_complication_is_judged_by_when_the_patient_was_seen(
    seen: int, harms: list[dict[str, Any]], expected: tuple[str, str]
) -> None:
    assert state({"last_seen_on": on(seen)}, [], ANY, harms) == expected


def test_every_state_and_reason_is_one_that_has_words() -> None:
    cases = [
        {},
        {"other_shoulder": "unknown"},
        {"revised_on": on(60)},
        {"patient_status": "moved", "status_on": on(60)},
        {"performed_on": date(2026, 10, 1)},
    ]
    given = data(cases, [film(2, 9.0, 9.0, procedure_id=number) for number in (1, 3, 4)])
    for definition in DEFINITIONS.values():
        applied = apply(definition, given)
        for horizon in HORIZONS.values():
            table = states_at(applied, given.cases, horizon, pd.Timestamp(CUTOFF))
            assert set(table["state"]) <= set(STATES)
            unjudged = table["state"] == "not_evaluable"
            assert set(table.loc[unjudged, "reason"]) <= set(REASONS)
            assert (table.loc[~unjudged, "reason"] == "").all()


@pytest.mark.parametrize(
    ("case", "films", "expected"),
    [
        ({}, [FIRST, film(90, 9.1)], [90.0, 0.0]),
        ({}, [FIRST, film(90, 14.0)], [90.0, 1.0]),
        ({"revised_on": on(120)}, [FIRST, film(90, 9.1)], [120.0, 2.0]),
        ({"revised_on": on(120)}, [FIRST, film(90, 14.0)], [90.0, 1.0]),
        ({"revised_on": on(90)}, [FIRST, film(90, 14.0)], [90.0, 1.0]),
        ({"patient_status": "died", "status_on": on(70)}, [FIRST], [70.0, 2.0]),
    ],
)
def test_a_case_ends_with_its_first_event_or_when_it_was_last_known_to_hold(
    case: dict[str, Any], films: list[dict[str, Any]], expected: list[float]
) -> None:
    given = data([case], films)
    assert times(apply(RISE, given), given.cases).loc[1].tolist() == expected


def test_a_case_that_cannot_be_judged_has_no_time() -> None:
    given = data([{}, {}], [film(90, 9.0)])
    assert times(apply(RISE, given), given.cases).empty


def test_a_complication_known_before_the_operation_starts_at_day_nought() -> None:
    given = data(harms=[harm(10, onset_on=on(-5))])
    assert times(apply(ANY, given), given.cases).loc[1].tolist() == [0.0, 1.0]


@pytest.mark.parametrize(
    ("name", "case", "films", "expected"),
    [
        ("rise-3mm", {}, [FIRST, film(40, 9.1), film(90, 14.0)], [40.0, 90.0, None]),
        ("rise-3mm", {}, [FIRST, film(40, 9.1)], [40.0, inf, None]),
        ("rise-3mm", {"revised_on": on(60)}, [FIRST, film(40, 9.1)], [40.0, inf, 60.0]),
        ("rise-3mm", {"revised_on": on(90)}, [FIRST, film(90, 14.0)], [2.0, 90.0, None]),
        ("rise-3mm", {"revised_on": on(95)}, [FIRST, film(90, 14.0)], [2.0, 90.0, None]),
        # A date of death before a film is an error of the records: what came first counts.
        ("rise-3mm", DIED, [FIRST, film(90, 9.1)], [70.0, inf, 70.0]),
        ("rise-3mm", DIED, [FIRST, film(40, 9.1), film(90, 14.0)], [40.0, inf, 70.0]),
        ("union-film", {}, [film(90, union="united")], [0.0, 90.0, None]),
        # Without a film the other event is known all the same.
        ("union-film", DIED, [], [0.0, inf, 70.0]),
        ("nonunion-6m", {}, [film(200, union="none")], [182.0, 182.0, None]),
    ],
)
def test_an_event_lies_between_two_films_or_another_came_first(
    name: str, case: dict[str, Any], films: list[dict[str, Any]], expected: list[float | None]
) -> None:
    given = data([case], films)
    row = intervals(apply(DEFINITIONS[name], given), given.cases).loc[1]
    assert [None if isnan(value) else value for value in row] == expected


def test_the_same_cases_have_a_time_and_an_interval() -> None:
    """Both curves of a page are of the same patients, with the same events and competing ones."""
    given = data(
        [{}, {"revised_on": on(60)}, DIED, {}, DIED],
        [
            film(day, mm, procedure_id=case)
            for case, day, mm in (
                (1, 1, 9.0),
                (1, 90, 14.0),
                (2, 1, 9.0),
                (3, 1, 9.0),
                (3, 40, 14.0),
                (5, 90, 9.0),
            )
        ],
    )
    applied = apply(RISE, given)
    cause = times(applied, given.cases)["cause"]
    lies = intervals(applied, given.cases)
    assert cause.index.tolist() == lies.index.tolist()
    assert (np.isfinite(lies["right"]) == (cause == 1)).all()
    assert (lies["competing"].notna() == (cause == 2)).all()


def test_a_case_about_which_nothing_is_known_has_no_interval() -> None:
    given = data([{}, {}], [film(90, 9.0)])
    assert intervals(apply(RISE, given), given.cases).empty
