import pandas as pd
import pytest

from analytics.endpoints.catalogue import DEFINITIONS, apply
from analytics.endpoints.definition import NO_FILM, REASONS
from analytics.endpoints.verdicts import deciding_readings, table
from tests.analytics.cohort import data, film, harm, on


def day(number: int) -> pd.Timestamp:
    return pd.Timestamp(on(number))


def test_each_case_has_one_row_that_says_all() -> None:
    given = data(
        [{}, {}, {"other_shoulder": "unknown"}, {"revised_on": on(60)}, {}],
        [
            *(film(at, mm, 9.0) for at, mm in ((2, 9.0), (40, 9.2), (90, 14.0))),
            *(film(at, mm, 9.0, procedure_id=2) for at, mm in ((2, 9.0), (40, 11.5))),
            film(2, 9.0, 9.0, procedure_id=3),
            *(film(at, mm, 9.0, procedure_id=4) for at, mm in ((2, 9.0), (90, 20.0))),
        ],
    )
    rows = table(apply(DEFINITIONS["ratio-50"], given))
    assert rows.index.tolist() == [1, 2, 3, 4, 5]
    assert rows["evaluable"].tolist() == [True, True, False, True, False]
    assert rows["why_not"].tolist() == ["", "", "other_shoulder", "", "no_baseline"]
    assert rows["verdict"].tolist() == ["lost", "held", "", "held", ""]
    assert rows["extent"].tolist() == ["complete", "partial", "", "", ""]
    assert rows.loc[1, ["last_held_on", "first_lost_on"]].tolist() == [day(40), day(90)]
    assert rows.loc[[2, 4], "last_held_on"].tolist() == [day(40), day(2)]
    assert rows["first_lost_on"].notna().tolist() == [True, False, False, False, False]
    assert rows["event_film"].tolist() == [3, NO_FILM, NO_FILM, NO_FILM, NO_FILM]


def test_all_readers_of_the_deciding_films_decided() -> None:
    given = data(
        films=[
            film(2, 9.0, film_id=1),
            film(40, 9.1, film_id=2),
            film(90, 13.0, film_id=3),
            film(90, 12.8, film_id=3, reader_id=2),
            film(180, 13.4, film_id=4),
        ]
    )
    found = deciding_readings(apply(DEFINITIONS["rise-3mm"], given), [1])
    assert found.to_numpy().tolist() == [
        [1, "first film", 1, 1],
        [1, "last without it", 2, 2],
        [1, "first with it", 3, 3],
        [1, "first with it", 3, 4],
    ]


def test_only_the_cases_asked_for_are_looked_up() -> None:
    given = data([{}, {}], [film(2, 9.0), film(2, 9.0, procedure_id=2)])
    found = deciding_readings(apply(DEFINITIONS["rise-3mm"], given), [2])
    assert set(found["procedure_id"]) == {2}


@pytest.mark.parametrize("name", ["rise-3mm", "nerve"])
def test_what_no_film_decided_has_no_readings(name: str) -> None:
    given = data(harms=[harm(9)])
    assert deciding_readings(apply(DEFINITIONS[name], given), [1]).empty


@pytest.mark.parametrize("definition", DEFINITIONS.values(), ids=lambda one: str(one.id))
def test_every_definition_gives_the_same_columns_and_known_reasons(definition: object) -> None:
    given = data([{}, {}], [film(2, 9.0, 9.0, translation_pct=3)], [harm(9)])
    rows = table(apply(definition, given))  # type: ignore[arg-type]
    assert len(rows) == 2
    assert set(rows["why_not"]) <= {"", *REASONS}
    assert ((rows["why_not"] == "") == rows["evaluable"]).all()
    assert (rows.loc[~rows["evaluable"], "verdict"] == "").all()
