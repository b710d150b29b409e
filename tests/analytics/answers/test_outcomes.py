import json
from datetime import date
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.answers.horizons import HORIZONS
from analytics.answers.outcomes import ALL, COLUMNS, GroupRow, answer, percent, to_rows
from analytics.endpoints.catalogue import DEFINITIONS
from analytics.endpoints.definition import Data, EndpointDefinition
from analytics.estimators.proportions import wilson
from tests.analytics.cohort import data, film, harm, on

YEAR = HORIZONS["12m"]
RISE = DEFINITIONS["rise-3mm"]
HELD, LOST, NOTHING = (360, 9.1), (90, 14.0), None


def cohort(*members: "tuple[int, dict[str, Any], tuple[int, float] | None]") -> Data:
    """Return so many cases each of a kind: what is known of it, and one film after the first."""
    cases, films = [], []
    for number, case, later in members:
        for _ in range(number):
            cases.append(case)
            films.append(film(2, 9.0, procedure_id=len(cases)))
            if later is not None:
                films.append(film(*later, procedure_id=len(cases)))
    return data(cases, films)


def numbers(row: GroupRow) -> tuple[int, ...]:
    return (
        row.operated,
        row.eligible,
        row.evaluable,
        row.events,
        row.competing,
        row.not_evaluable,
    )


def test_a_rate_stands_with_its_denominator_interval_and_missing() -> None:
    # Own arithmetic: 120 operated, 104 evaluable, 10 lost, 16 not evaluable.
    found = answer(cohort((10, {}, LOST), (94, {}, HELD), (16, {}, NOTHING)), RISE, YEAR).total
    assert numbers(found) == (120, 120, 104, 10, 0, 16)
    assert found.rate == wilson(10, 104)
    assert found.rate.estimate == pytest.approx(0.09615, abs=5e-6)
    assert found.bounds is not None
    assert (found.bounds.low, found.bounds.high) == pytest.approx((0.08333, 0.21667), abs=5e-6)
    assert found.reasons == {"no_film": 16}


def test_each_group_has_its_row_in_order_and_all_have_the_total() -> None:
    result = answer(
        cohort(
            (8, {"construct_type": "LP"}, HELD),
            (2, {"construct_type": "LP"}, LOST),
            (5, {"construct_type": "HP"}, HELD),
            (1, {"construct_type": "HP", "revised_on": on(200)}, NOTHING),
            (1, {"construct_type": None}, HELD),
        ),
        RISE,
        YEAR,
    )
    assert [row.group for row in result.rows] == ["HP", "LP", "not recorded"]
    assert [numbers(row) for row in result.rows] == [
        (6, 6, 6, 0, 1, 0),
        (10, 10, 10, 2, 0, 0),
        (1, 1, 1, 0, 0, 0),
    ]
    assert result.total.group == ALL
    assert numbers(result.total) == (17, 17, 17, 2, 1, 0)


def test_a_number_opens_to_the_cases_behind_it() -> None:
    result = answer(
        cohort(
            (1, {}, HELD),
            (1, {}, LOST),
            (1, {}, NOTHING),
            (1, {"revised_on": on(100)}, NOTHING),
            (1, {"performed_on": date(2026, 10, 1)}, NOTHING),
        ),
        RISE,
        YEAR,
    ).total
    assert dict(result.cases) == {
        "operated": (1, 2, 3, 4, 5),
        "eligible": (1, 2, 3, 4),
        "evaluable": (1, 2, 4),
        "events": (2,),
        "held": (1,),
        "competing": (4,),
        "not_evaluable": (3,),
        "reason:no_film": (3,),
    }


def test_a_column_that_the_cases_lack_is_refused() -> None:
    with pytest.raises(ValueError, match="cases have no column 'shoe_size'"):
        answer(data(), RISE, YEAR, by="shoe_size")


def test_nobody_operated_gives_an_empty_table_and_a_sentence() -> None:
    result = answer(data([]), RISE, YEAR)
    assert result.rows == result.curves == ()
    assert numbers(result.total) == (0, 0, 0, 0, 0, 0)
    assert result.total.rate is result.total.bounds is result.total.incidence.estimate is None
    assert result.sentence.startswith("Nobody can be judged at 12 months")


def test_nobody_evaluable_has_no_rate_but_has_bounds() -> None:
    found = answer(cohort((4, {}, NOTHING)), RISE, YEAR).total
    assert found.rate is None
    assert found.bounds is not None
    assert (found.bounds.low, found.bounds.high) == (0.0, 1.0)


def test_the_sentence_says_the_rate_the_interval_and_what_the_missing_could_do() -> None:
    result = answer(cohort((10, {}, LOST), (94, {}, HELD), (16, {}, NOTHING)), RISE, YEAR)
    for words in (
        "10 of 104 judged (9.6%; 95% interval 5.3% to 16.8%)",
        RISE.name,
        "16 of 120 eligible could not be judged",
        "8.3%",
        "21.7%",
    ):
        assert words in result.sentence


def test_the_sentence_gives_the_incidence_where_enough_are_at_risk_for_it() -> None:
    given = cohort((4, {}, LOST), (6, {}, (400, 9.1)))
    assert "as long as they were seen: 40.0% (" in answer(given, RISE, YEAR).sentence
    assert "umulative incidence" not in answer(given, RISE, YEAR, min_at_risk=7).sentence


def test_incidence_counts_what_comes_first() -> None:
    # Ten cases, all followed; 2 revised before any loss, then 4 lost: 4 of 10, not 4 of 8.
    result = answer(
        cohort((2, {"revised_on": on(50)}, NOTHING), (4, {}, LOST), (4, {}, (400, 9.1))),
        RISE,
        YEAR,
        min_at_risk=1,
    ).total
    assert result.incidence.estimate is not None
    assert result.incidence.estimate.estimate == pytest.approx(0.4)
    assert result.incidence.at_risk == 4


def test_incidence_is_not_shown_where_too_few_remain_at_risk() -> None:
    given = cohort((4, {}, LOST), (4, {}, (400, 9.1)))
    hidden = answer(given, RISE, YEAR, min_at_risk=5).total.incidence
    assert (hidden.estimate, hidden.at_risk) == (None, 4)
    assert answer(given, RISE, YEAR, min_at_risk=4).total.incidence.estimate is not None


def test_without_an_event_the_incidence_still_has_an_upper_limit() -> None:
    found = answer(cohort((12, {}, (400, 9.1))), RISE, YEAR).total.incidence
    assert found.estimate == wilson(0, 12)
    assert found.estimate.high > 0.2


def test_incidence_at_the_horizon_counts_events_found_by_the_end_of_its_window() -> None:
    given = cohort((2, {}, (440, 14.0)), (8, {}, (700, 9.1)))
    found = answer(given, RISE, YEAR).total
    assert found.events == 2
    assert found.incidence.estimate is not None
    assert found.incidence.estimate.estimate == pytest.approx(0.2)


def test_incidence_counts_nothing_beyond_the_end_of_the_curve() -> None:
    # Five remain after the horizon; the last losses come when only two of them do.
    given = cohort((4, {}, (100, 14.0)), (3, {}, (380, 9.1)), (2, {}, (440, 14.0)))
    found = answer(given, RISE, YEAR, min_at_risk=5)
    assert found.total.incidence.estimate is not None
    assert found.total.incidence.estimate.estimate == pytest.approx(4 / 9)
    assert found.curves[0].incidence[-1] == pytest.approx(4 / 9)


def test_a_curve_stops_where_fewer_than_the_minimum_remain() -> None:
    given = cohort((3, {}, (40, 14.0)), (5, {}, (90, 9.0)), (4, {}, (300, 14.0)))
    (curve,) = answer(given, RISE, YEAR, min_at_risk=5).curves
    assert curve.days == (0.0, 40.0, 90.0)
    assert curve.incidence == pytest.approx((0.0, 0.25, 0.25))
    assert curve.stops_at == 90.0
    assert all(
        low <= share <= high
        for low, share, high in zip(curve.low, curve.incidence, curve.high, strict=True)
    )
    assert curve.at_risk == {0: 12, 183: 4, 365: 0, 548: 0, 731: 0}


def test_a_group_that_is_too_small_has_a_curve_that_does_not_begin() -> None:
    (curve,) = answer(cohort((3, {}, LOST)), RISE, YEAR, min_at_risk=5).curves
    assert (curve.days, curve.stops_at) == ((0.0,), 0.0)


def test_page_command_and_file_get_the_same_plain_rows() -> None:
    result = answer(cohort((10, {}, LOST), (94, {}, HELD), (16, {}, NOTHING)), RISE, YEAR)
    rows = to_rows(result)
    assert [row["group"] for row in rows] == ["LP", ALL]
    assert all(list(row) == list(COLUMNS) for row in rows)
    assert rows[-1]["rate"] == pytest.approx(10 / 104)
    assert rows[-1]["bound_high"] == pytest.approx(26 / 120)
    assert json.loads(json.dumps(rows)) == rows


def test_published_counts_come_back_with_their_intervals() -> None:
    # Complications of a locking plate alone, 5 of 16, and with one anchor, 3 of 18 (numerator
    # inferred from its percentage): BMC Musculoskelet Disord 2019, s12891-019-2892-6. Limits: own
    # arithmetic.
    cases = [
        {"construct_type": code, "last_seen_on": on(400)}
        for code, number in (("LP", 16), ("LP+A1", 18))
        for _ in range(number)
    ]
    harmed = [*range(1, 6), *range(17, 20)]
    given = data(cases, harms=[harm(60, procedure_id=number) for number in harmed])
    alone, anchored = answer(given, DEFINITIONS["any-complication"], YEAR).rows
    for row, low, high in ((alone, 14.2, 55.6), (anchored, 5.8, 39.2)):
        assert row.rate is not None
        assert (row.rate.low * 100, row.rate.high * 100) == pytest.approx((low, high), abs=0.05)


def test_a_share_is_written_with_one_decimal() -> None:
    assert percent(0.09615) == "9.6%"


cases = st.fixed_dictionaries(
    {
        "construct_type": st.sampled_from(["LP", "HP", "CC-B", None]),
        "injury_kind": st.sampled_from(["lateral_clavicle", "ac_joint"]),
        "other_shoulder": st.sampled_from(["uninjured", "unknown"]),
        "performed_on": st.dates(date(2022, 1, 1), date(2026, 11, 25)),
        "patient_status": st.sampled_from(["active", "active", "died", "withdrawn", "moved"]),
        "status_on": st.none() | st.dates(date(2022, 1, 1), date(2026, 11, 25)),
        "revised_on": st.none() | st.dates(date(2022, 1, 1), date(2026, 11, 25)),
        "last_seen_on": st.none() | st.dates(date(2022, 1, 1), date(2026, 11, 25)),
    }
)
films = st.tuples(
    st.integers(1, 12),
    st.dates(date(2022, 1, 1), date(2026, 11, 25)),
    st.integers(60, 180),
    st.sampled_from(["none", "united", "not_judged"]),
)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(cases, min_size=1, max_size=12),
    st.lists(films, max_size=40),
    st.sampled_from(list(DEFINITIONS.values())),
    st.sampled_from(list(HORIZONS.values())),
)
def test_the_sums_add_up(
    rows: list[dict[str, Any]],
    taken: list[tuple[int, date, int, str]],
    definition: EndpointDefinition,
    horizon: Any,
) -> None:
    readings = [
        film(0, mm / 10, 8.0, procedure_id=number, taken_on=day, union=union)
        for number, day, mm, union in taken
        if number <= len(rows)
    ]
    harms = [harm(0, procedure_id=1, detected_on=rows[0]["performed_on"])]
    result = answer(data(rows, readings, harms), definition, horizon, min_at_risk=1)
    for row in (*result.rows, result.total):
        held = len(row.cases["held"])
        assert row.eligible == row.evaluable + row.not_evaluable <= row.operated
        assert row.evaluable == row.events + held + row.competing
        assert row.not_evaluable == sum(row.reasons.values())
        for which in ("operated", "eligible", "evaluable", "events", "competing", "not_evaluable"):
            assert len(row.cases[which]) == len(set(row.cases[which])) == getattr(row, which)
        for code, number in row.reasons.items():
            assert len(row.cases[f"reason:{code}"]) == number
        if row.rate is not None and row.bounds is not None:
            assert row.bounds.low <= row.rate.estimate + 1e-12
            assert row.rate.estimate <= row.bounds.high + 1e-12
    table = np.array([numbers(row) for row in result.rows])
    assert table.sum(axis=0).tolist() == list(numbers(result.total))
    for row in result.rows:
        for which, keys in row.cases.items():
            assert set(keys) <= set(result.total.cases[which])
