import pytest

from analytics.answers.burden import ANY, Burden, answer, to_rows
from analytics.endpoints.definition import Data
from analytics.estimators.proportions import wilson
from analytics.estimators.rates import poisson_rate
from tests.analytics.cohort import data, harm, on


def service() -> Data:
    """Four plates and two hooks, each seen for two years of 365.25 days."""
    cases = [
        {"construct_type": code, "last_seen_on": on(730)} for code in ("LP",) * 4 + ("HP",) * 2
    ]
    harms = [
        harm(30, "nerve", procedure_id=1, grade="I"),
        harm(90, "nerve", procedure_id=1, grade="III"),
        harm(50, "nerve", procedure_id=2, grade="II"),
        harm(60, "infection_deep", procedure_id=2, grade="III", onset_on=on(40)),
        harm(100, "subacromial_osteolysis", procedure_id=5, grade="unknown"),
    ]
    return data(cases, harms=harms)


def found(kind: str, group: str) -> Burden:
    (one,) = [row for row in answer(service()) if (row.kind, row.group) == (kind, group)]
    return one


def test_patients_are_counted_once_and_events_each_time() -> None:
    nerve = found("nerve", "LP")
    assert (nerve.operated, nerve.patients, nerve.events) == (4, 2, 3)
    assert nerve.share == wilson(2, 4)
    assert nerve.grades == {"I": 1, "II": 1, "III": 1}


def test_events_stand_by_procedures_and_by_person_time_with_the_exact_interval() -> None:
    every = found(ANY, "all")
    assert (every.operated, every.patients, every.events) == (6, 3, 5)
    assert every.years == pytest.approx(6 * 730 / 365.25)
    assert every.per_100 == poisson_rate(5, 0.06)
    assert every.per_100_years is not None
    # Garwood 1936: five events have limits 1.6235 and 11.6683.
    assert every.per_100_years.low * every.years / 100 == pytest.approx(1.6235, abs=5e-5)
    assert every.per_100_years.high * every.years / 100 == pytest.approx(11.6683, abs=5e-5)


def test_time_to_the_first_is_that_of_patients_with_one() -> None:
    # Patient 1 had the first on day 30, patient 2 that of day 40 before that of day 50.
    assert found(ANY, "LP").quartiles == pytest.approx((32.5, 35.0, 37.5))
    assert found("infection_deep", "all").quartiles == (40.0, 40.0, 40.0)


def test_kinds_nobody_had_are_left_out_but_any_is_always_there() -> None:
    rows = answer(service())
    assert {(row.kind, row.group) for row in rows} == {
        *((ANY, group) for group in ("all", "HP", "LP")),
        *((kind, group) for kind in ("nerve", "infection_deep") for group in ("all", "LP")),
        *(("subacromial_osteolysis", group) for group in ("all", "HP")),
    }
    hook = found(ANY, "HP")
    assert (hook.patients, hook.grades) == (1, {"unknown": 1})


def test_an_event_after_the_last_visit_lengthens_the_watch() -> None:
    given = data([{"last_seen_on": on(10)}, {}], harms=[harm(100)])
    (every, _, _, _) = answer(given)
    assert every.years == pytest.approx(100 / 365.25)


def test_nobody_watched_has_no_rate_by_person_time() -> None:
    every, group = answer(data())
    assert (every.patients, every.per_100_years, every.quartiles) == (0, None, None)
    assert group.share == wilson(0, 1)
    (nobody,) = answer(data([]))
    assert (nobody.share, nobody.per_100) == (None, None)


def test_rows_for_a_file_have_a_column_for_each_grade() -> None:
    rows = to_rows(answer(service()))
    first = rows[0]
    assert (first["kind"], first["group"], first["patients"], first["events"]) == (ANY, "all", 3, 5)
    assert (first["grade_III"], first["grade_unknown"], first["grade_V"]) == (2, 1, 0)
    assert len({tuple(row) for row in rows}) == 1


def test_a_column_that_the_cases_lack_is_refused() -> None:
    with pytest.raises(ValueError, match="cases have no column 'shoe_size'"):
        answer(service(), by="shoe_size")
