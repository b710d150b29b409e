import math

import pandas as pd
import pytest

from analytics.answers import outcomes
from analytics.answers.horizons import HORIZONS
from analytics.answers.timing import At, Course, Timing, answer, to_rows
from analytics.endpoints.catalogue import DEFINITIONS
from analytics.endpoints.definition import Data
from analytics.estimators.interval import incidence_at, turnbull
from analytics.estimators.proportions import wilson
from tests.analytics.cohort import data, film, on

YEAR, RISE = HORIZONS["12m"], DEFINITIONS["rise-3mm"]


def cohort(*members: tuple[str, int, tuple[tuple[int, float], ...]]) -> Data:
    """Return so many cases of each group with these films: day and distance."""
    cases, films = [], []
    for code, number, taken in members:
        for _ in range(number):
            cases.append({"construct_type": code})
            films += [film(day, mm, procedure_id=len(cases)) for day, mm in ((2, 9.0), *taken)]
    return data(cases, films)


LATE = ((90, 9.0), (400, 14.0))
EARLY = ((40, 14.0),)
HELD = ((90, 9.0), (400, 9.0), (760, 9.0))


def service() -> Data:
    return cohort(("LP", 6, LATE), ("LP", 14, HELD), ("HP", 8, EARLY), ("HP", 12, HELD))


def of(found: Timing, group: str) -> Course:
    return next(one for one in found.courses if one.group == group)


def here(course: Course, code: str = "12m") -> At:
    return next(one for one in course.at if one.horizon.code == code)


def test_an_event_may_lie_anywhere_between_its_two_films() -> None:
    plates = of(answer(service(), RISE, YEAR), "LP")
    # Six of twenty were lost after day 90 and by day 400: at a year it may be none or all of them.
    assert plates.share == pytest.approx((0.3,))
    assert (plates.most_days, plates.least_days) == ((90.0,), (400.0,))
    lies = here(plates).between
    assert lies is not None
    assert (lies.lower, lies.upper) == pytest.approx((0.0, 0.3))
    # By the days of their films none was found by then.
    found = here(plates).found
    assert found is not None
    assert found == wilson(0, 20)
    assert (plates.found_days, plates.found_share) == ((400.0,), pytest.approx((0.3,)))


def test_the_estimate_is_that_of_the_estimator_for_the_same_intervals() -> None:
    hooks = of(answer(service(), RISE, YEAR), "HP")
    left, right = [2.0] * 8 + [760.0] * 12, [40.0] * 8 + [math.inf] * 12
    never = [math.nan] * 20
    assert here(hooks).between == incidence_at(left, right, 365.0, seed=0, competing=never)
    assert hooks.share == pytest.approx((turnbull(left, right).cdf(50.0).lower,))


def test_the_sentence_says_why_the_two_curves_differ() -> None:
    said = answer(service(), RISE, YEAR).sentence
    assert "between two films, 38 days apart in the median" in said
    assert "puts it on the day of the later film, so it runs late" in said
    assert "the share that had the event before a revision or a death" in said
    assert "By day 365 it had happened in 20.0% to 35.0% (films do not tell where between)" in said
    assert "had been found in 20.0%" in said


def test_curves_end_where_too_few_are_known() -> None:
    given = cohort(("LP", 4, LATE), ("LP", 4, HELD))
    plates = of(answer(given, RISE, YEAR, min_at_risk=5), "LP")
    # Four are known up to day 760, and the fifth up to the film of day 400.
    assert plates.stops_at == 400.0
    assert here(plates, "24m").between is here(plates, "24m").found is None
    assert here(plates, "24m").known == 4
    assert here(plates).between is not None


def test_a_group_that_is_too_small_has_no_curve_and_is_in_no_test() -> None:
    given = cohort(("LP", 6, LATE), ("LP", 6, HELD), ("HP", 3, EARLY))
    found = answer(given, RISE, YEAR)
    small = of(found, "HP")
    assert (small.stops_at, small.share, small.found_days) == (0.0, (), ())
    assert all(one.between is None for one in small.at)
    assert (found.p_value, found.compared) == (None, ("LP",))


def test_groups_are_tested_by_relabelling() -> None:
    found = answer(service(), RISE, YEAR)
    assert found.compared == ("HP", "LP")
    assert found.p_value is not None
    assert 0 < found.p_value < 1
    assert found.p_value == answer(service(), RISE, YEAR).p_value
    apart = cohort(("LP", 20, HELD), ("HP", 20, EARLY))
    assert (answer(apart, RISE, YEAR).p_value or 1.0) < 0.001


def test_both_curves_count_a_revision_or_a_death_as_competing() -> None:
    """By hand: ten of twenty leave at day 60; of the others half are lost by the film of day 90.

    Found: half are left at day 60, half of them are lost, a quarter. Happened between days 40 and 90:
    half of those in watch; all of them are in watch at day 40 and half at day 90, three quarters in the
    mean. Were the leaving taken as censoring, both would say a half.
    """
    later = ((40, 9.0), (90, 14.0)), ((40, 9.0), (90, 9.0), (400, 9.0))
    given = cohort(("LP", 10, ((40, 9.0),)), ("LP", 5, later[0]), ("LP", 5, later[1]))
    given.cases.loc[given.cases.index[:9], "revised_on"] = pd.Timestamp(on(60))
    given.cases.loc[given.cases.index[9], ["patient_status", "status_on"]] = [
        "died",
        pd.Timestamp(on(60)),
    ]
    plates = of(answer(given, RISE, YEAR), "LP")
    year = here(plates)
    assert (plates.subjects, plates.events) == (20, 5)
    assert year.found is not None
    assert year.between is not None
    assert year.found.estimate == pytest.approx(0.25)
    assert (year.between.lower, year.between.upper) == pytest.approx((0.375, 0.375))
    assert (plates.share, plates.found_share) == (pytest.approx((0.375,)), pytest.approx((0.25,)))
    # Whoever left before the day is not known at it.
    assert [here(plates, code).known for code in ("6w", "3m", "12m")] == [20, 5, 5]


def test_what_is_found_is_what_the_curve_of_the_page_beside_says() -> None:
    given = service()
    given.cases.loc[given.cases.index[:3], "revised_on"] = pd.Timestamp(on(60))
    curve = outcomes.answer(given, RISE, YEAR).curves[1]
    plates = of(answer(given, RISE, YEAR), curve.group)
    assert (plates.subjects, plates.events) == (20, 3)
    by_day = dict(zip(curve.days, curve.incidence, strict=True))
    assert plates.found_share == pytest.approx([by_day[day] for day in plates.found_days])


def test_nobody_lost_and_nobody_operated_are_both_answers() -> None:
    well = answer(cohort(("LP", 9, HELD)), RISE, YEAR)
    assert well.sentence == "Nobody has had the event between two films yet."
    assert well.median_gap_days is None
    lies = here(of(well, "LP")).between
    assert lies is not None
    assert (lies.estimate, round(lies.high, 3)) == (0.0, 0.336)
    nobody = answer(data([]), RISE, YEAR)
    assert (nobody.total, nobody.courses) == (None, ())


def test_rows_for_a_file_have_every_group_at_every_horizon() -> None:
    rows = to_rows(answer(service(), RISE, YEAR))
    assert [(row["group"], row["horizon"]) for row in rows[::5]] == [
        ("HP", "6w"),
        ("LP", "6w"),
        ("all", "6w"),
    ]
    assert len(rows) == 15
    year = rows[8]
    assert (year["day"], year["happened_lower"], year["found"]) == (365, 0.0, 0.0)
    assert year["found_high"] > 0.1


def test_a_column_that_the_cases_lack_is_refused() -> None:
    with pytest.raises(ValueError, match="cases have no column 'shoe_size'"):
        answer(service(), RISE, YEAR, by="shoe_size")
