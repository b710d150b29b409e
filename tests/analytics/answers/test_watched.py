from datetime import timedelta
from typing import Any

import pandas as pd
import pytest

from analytics.answers import watched
from analytics.answers.horizons import HORIZONS
from analytics.answers.watched import UNPLANNED, WATCHED
from analytics.endpoints.catalogue import DEFINITIONS, definitions_of
from tests.analytics import cohort
from tests.analytics.cohort import CUTOFF, film, harm, on

NONE = pd.DataFrame({"index_id": [], "kind": [], "performed_on": [], "planned_removal": []})
YEAR, RISE = HORIZONS["12m"], DEFINITIONS["rise-3mm"]


def operations(*rows: tuple[int, str, int, bool | None]) -> pd.DataFrame:
    """Return later operations: index procedure, kind, day, whether the removal was planned."""
    frame = pd.DataFrame(
        [
            {"index_id": key, "kind": kind, "performed_on": on(day), "planned_removal": planned}
            for key, kind, day, planned in rows
        ]
    )
    return frame.assign(performed_on=pd.to_datetime(frame["performed_on"]))


def seen(day: int = 500, **more: Any) -> dict[str, Any]:
    return {"last_seen_on": on(day), **more}


def test_every_watched_endpoint_is_shipped_and_can_be_asked_at_its_horizons() -> None:
    for one in WATCHED.values():
        assert set(one.horizons) <= set(HORIZONS)
        if one.definition_id:
            assert watched.definition_of(one.definition_id).endpoint == one.endpoint
        else:
            assert definitions_of(one.endpoint)
    with pytest.raises(KeyError):
        watched.definition_of("no-such-one")


def test_a_case_is_settled_when_its_window_has_closed_and_it_can_be_judged() -> None:
    cases = [{}, {}, {}, {"performed_on": CUTOFF - timedelta(days=300)}]
    recent = CUTOFF - timedelta(days=200)
    films = [
        film(2, 9.0),
        film(400, 9.5),
        film(2, 9.0, procedure_id=2),
        film(90, 14.0, procedure_id=2),
        film(2, 9.0, procedure_id=3),
        {**film(2, 9.0, procedure_id=4), "taken_on": CUTOFF - timedelta(days=298)},
        {**film(2, 14.0, procedure_id=4), "taken_on": recent},
    ]
    found = watched.states(cohort.data(cases, films), NONE, RISE, YEAR)
    assert found["state"].tolist() == ["held", "event", "not_evaluable", "not_eligible"]
    assert found["settled"].tolist() == [True, True, False, False]
    assert found["event"].tolist() == [False, True, False, False]


def test_an_early_event_waits_for_its_window_as_those_without_one_do() -> None:
    # Ten months after the operation: lost at three, and nobody may be counted yet.
    early = cohort.data([{}], [film(2, 9.0), film(90, 14.0)], cutoff=on(300))
    assert not watched.states(early, NONE, RISE, YEAR)["settled"].any()
    later = cohort.data([{}], [film(2, 9.0), film(90, 14.0)], cutoff=on(366 + 91))
    assert watched.states(later, NONE, RISE, YEAR)["settled"].all()


def test_a_revision_that_came_first_settles_a_case_without_the_event() -> None:
    given = cohort.data([{"revised_on": on(30)}], [film(2, 9.0)])
    (row,) = watched.states(given, NONE, RISE, YEAR).to_dict("records")
    assert (row["state"], row["settled"], row["event"]) == ("competing", True, False)


def test_settled_cases_stand_in_the_order_of_their_operations() -> None:
    days = [on(20), on(5), on(20), on(1)]
    cases = [{"performed_on": day} for day in days]
    films = [
        {**film(0, 9.0, procedure_id=key), "taken_on": day + timedelta(days=after)}
        for key, day in enumerate(days, 1)
        for after in (2, 400)
    ]
    found = watched.in_order(watched.states(cohort.data(cases, films), NONE, RISE, YEAR))
    assert found.index.tolist() == [4, 2, 1, 3]


@pytest.mark.parametrize(
    ("kind", "planned", "counts"),
    [
        ("revision_fixation", False, True),
        ("washout", None, True),
        ("implant_removal", False, True),
        ("implant_removal", True, False),
        ("other", False, False),
    ],
)
def test_an_operation_counts_as_unplanned_by_what_it_was(
    kind: str, planned: bool | None, counts: bool
) -> None:
    later = operations((1, kind, 60, planned), (99, "washout", 60, None))
    found = watched.states(cohort.data([seen()]), later, UNPLANNED, YEAR)
    assert found["event"].tolist() == [counts]


def test_what_was_recorded_as_an_unplanned_reoperation_counts_once() -> None:
    given = cohort.data([seen(), seen()], harms=[harm(60, "unplanned_reoperation")])
    for later in (NONE, operations((1, "washout", 61, None))):
        assert watched.states(given, later, UNPLANNED, YEAR)["event"].tolist() == [True, False]


def test_a_reoperation_after_the_window_is_none_by_the_horizon() -> None:
    later = operations((1, "revision_fixation", 470, False))
    found = watched.states(cohort.data([seen(500)]), later, UNPLANNED, YEAR)
    assert found["event"].tolist() == [False]


def test_other_endpoints_know_nothing_of_reoperations() -> None:
    later = operations((1, "washout", 20, None))
    infection = DEFINITIONS["infection-deep-90d"]
    given = cohort.data([seen()], harms=[harm(30, "infection_deep")])
    found = watched.states(given, later, infection, watched.horizon_of("3m"))
    assert found["event"].tolist() == [True]
    none = watched.states(cohort.data([seen()]), later, infection, watched.horizon_of("3m"))
    assert none["event"].tolist() == [False]
