from typing import Any

import pandas as pd
import pytest

from analytics.answers import completeness
from analytics.answers.completeness import GroupRow
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import DEFINITIONS, apply
from analytics.endpoints.definition import Data
from tests.analytics.cohort import CUTOFF, OPERATED, data, film, on
from tests.analytics.followed import review, reviews

RISE = DEFINITIONS["rise-3mm"]
END = pd.Timestamp(CUTOFF)


def answered(
    cohort: Data, rows: "list[dict[str, Any]] | tuple[()]" = (), horizon: str = "12m"
) -> tuple[GroupRow, ...]:
    return completeness.answer(
        apply(RISE, cohort),
        cohort.cases,
        reviews(list(rows)),
        HORIZONS[horizon],
        END,
        "construct_type",
    )


def test_the_reviewed_are_those_attended_of_those_whose_window_is_over() -> None:
    cohort = data([{}, {}, {"construct_type": "HP"}])
    rows = [
        review("done_in_window"),
        review("done_outside", procedure_id=2),
        review("missed", procedure_id=3),
        review("done_in_window", "6w"),
    ]
    hook, plate, total = answered(cohort, rows)
    assert (hook.group, plate.group, total.group) == ("HP", "LP", "all")
    assert list(total.reviewed) == ["6w", "12m"]
    twelve = {row.group: row.reviewed["12m"] for row in (hook, plate, total)}
    assert {name: (one.number, one.of) for name, one in twelve.items()} == {
        "HP": (0, 1),
        "LP": (2, 2),
        "all": (2, 3),
    }
    assert hook.reviewed["6w"].estimate is None


@pytest.mark.parametrize("way", completeness.FALLEN_AWAY)
def test_a_review_that_fell_away_is_not_counted(way: str) -> None:
    (*_, total) = answered(data([{}, {}]), [review(way), review("lapsed", procedure_id=2)])
    assert (total.reviewed["12m"].number, total.reviewed["12m"].of) == (0, 1)


@pytest.mark.parametrize("way", ["withdrawal", "moved", "missed", "lapsed", "open"])
def test_a_review_from_which_somebody_stayed_away_is(way: str) -> None:
    (*_, total) = answered(data([{}]), [review(way)])
    assert (total.reviewed["12m"].number, total.reviewed["12m"].of) == (0, 1)


def test_an_open_window_counts_for_nobody() -> None:
    rows = [review(closes_on=CUTOFF), review("open", procedure_id=2, closes_on=CUTOFF)]
    (*_, total) = answered(data([{}, {}]), rows)
    assert total.reviewed == {}


def test_person_time_is_clarks_with_an_event_ending_what_could_be_seen() -> None:
    # Own arithmetic: 64 of 78 months; the fourth had the event at 6 months, the third was last seen
    # at 10. Months of days that give whole numbers.
    last = (pd.Timestamp(OPERATED) + pd.DateOffset(months=24) - pd.Timestamp(OPERATED)).days
    month = last / 24
    seen = [on(last + 20), on(last), on(round(10 * month)), on(round(6 * month))]
    films = [film(2, 9.0, procedure_id=number) for number in (1, 2, 3, 4)]
    films.append(film(round(6 * month), 14.0, procedure_id=4))
    (*_, total) = answered(data([{"last_seen_on": day} for day in seen], films), horizon="24m")
    assert total.person_time.share == pytest.approx(64 / 78, abs=5e-4)
    assert total.person_time.potential_years == pytest.approx(78 / 12, abs=0.01)


def test_death_and_revision_end_what_could_be_seen_and_leaving_does_not() -> None:
    ways: list[tuple[dict[str, Any], float]] = [
        ({"patient_status": "died", "status_on": on(100)}, 1.0),
        ({"revised_on": on(100)}, 1.0),
        ({"patient_status": "moved", "status_on": on(100), "last_seen_on": on(100)}, 100 / 366),
        ({}, 0.0),
        ({"last_seen_on": on(900)}, 1.0),
    ]
    for case, share in ways:
        (*_, total) = answered(data([case]))
        assert total.person_time.share == pytest.approx(share), case


def test_nobody_is_observed_before_the_operation_or_after_the_data_end() -> None:
    (*_, early) = answered(data([{"last_seen_on": on(-5)}]))
    assert early.person_time.share == 0
    (*_, new) = answered(data([{"performed_on": CUTOFF, "last_seen_on": CUTOFF}]))
    assert (new.person_time.potential_years, new.person_time.share) == (0, None)


def test_more_lost_than_failed_is_flagged() -> None:
    # Own arithmetic: 120 operated, 104 evaluable, 10 lost their reduction, 16 not seen: 16 / 10.
    cases: list[dict[str, Any]] = [{} for _ in range(120)]
    films = [film(2, 9.0, procedure_id=number) for number in range(1, 121)]
    films += [film(90, 14.0, procedure_id=number) for number in range(1, 11)]
    films += [film(360, 9.0, procedure_id=number) for number in range(11, 105)]
    (*_, total) = answered(data(cases, films))
    assert (total.lost, total.failures, total.quotient) == (16, 10, 1.6)
    assert total.more_lost_than_failed


def test_without_a_failure_there_is_no_quotient() -> None:
    (*_, total) = answered(data([{}]))
    assert (total.lost, total.failures, total.quotient) == (1, 0, None)
    assert total.more_lost_than_failed
    (*_, none) = answered(data([]))
    assert (none.operated, none.lost, none.more_lost_than_failed) == (0, 0, False)


def test_plain_rows_have_every_step() -> None:
    rows = completeness.to_rows(answered(data([{}]), [review(), review("missed", "6w")]))
    assert rows[-1]["group"] == "all"
    assert (rows[-1]["reviewed_6w"], rows[-1]["due_6w"]) == (0, 1)
    assert (rows[-1]["reviewed_12m"], rows[-1]["due_12m"]) == (1, 1)
    assert rows[-1]["lost"] == 1
