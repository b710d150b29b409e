import pandas as pd
import pytest

from analytics.endpoints.definition import NO_FILM, VERDICT_COLUMNS, empty_verdicts, with_competing
from tests.analytics.cohort import data, film, on


def test_an_empty_table_of_verdicts_knows_every_case_and_nothing_else() -> None:
    cases = data([{}, {}]).cases
    verdicts = empty_verdicts(cases)
    assert tuple(verdicts.columns) == VERDICT_COLUMNS
    assert verdicts.index.equals(cases.index)
    assert (verdicts[["not_evaluable", "unknown", "competing"]] == "").all().all()
    assert (verdicts[["baseline_film", "seen_film", "event_film"]] == NO_FILM).all().all()
    assert not verdicts["partial"].any()
    assert verdicts[["baseline_on", "seen_until", "event_on", "competing_on"]].isna().all().all()
    assert (verdicts.dtypes[["event_on", "competing_on"]] == "datetime64[ns]").all()


DIED = {"patient_status": "died"}


@pytest.mark.parametrize(
    ("case", "competing", "kind", "day"),
    [
        ({}, ("revision", "death"), "", None),
        ({"revised_on": on(50)}, ("revision", "death"), "revision", 50),
        ({"revised_on": on(50)}, ("death",), "", None),
        ({**DIED, "status_on": on(60)}, ("revision", "death"), "death", 60),
        ({**DIED, "status_on": on(60), "revised_on": on(70)}, ("revision", "death"), "death", 60),
        ({**DIED, "status_on": on(70), "revised_on": on(60)}, ("revision",), "revision", 60),
        (
            {**DIED, "status_on": on(60), "revised_on": on(60)},
            ("revision", "death"),
            "revision",
            60,
        ),
        ({"patient_status": "moved", "status_on": on(60)}, ("revision", "death"), "", None),
        ({"removed_on": on(60)}, ("revision", "death"), "", None),
        ({"removed_on": on(60)}, ("removal", "death"), "removal", 60),
        ({"removed_on": on(60), "revised_on": on(60)}, ("revision", "removal"), "revision", 60),
        ({**DIED, "status_on": on(50), "removed_on": on(60)}, ("removal", "death"), "death", 50),
    ],
)
def test_the_first_competing_event_is_found(
    case: dict[str, object], competing: tuple[str, ...], kind: str, day: int | None
) -> None:
    cases = data([case]).cases
    verdict = with_competing(empty_verdicts(cases), cases, competing).loc[1]
    assert verdict["competing"] == kind
    if day is None:
        assert pd.isna(verdict["competing_on"])
    else:
        assert verdict["competing_on"] == pd.Timestamp(on(day))


def test_no_cases_have_no_competing_events() -> None:
    cases = data([]).cases
    assert with_competing(empty_verdicts(cases), cases, ("revision", "death")).empty


def test_films_are_made_once_from_the_readings() -> None:
    given = data(films=[film(2, 9.0), film(2, 9.4, film_id=1)])
    assert given.films is given.films
    assert given.films["ccd_injured_mm"].tolist() == pytest.approx([9.2])
