from typing import Any

import pandas as pd
import pytest

from analytics.endpoints.catalogue import DEFINITIONS, apply
from analytics.endpoints.definition import Data, EndpointDefinition
from analytics.endpoints.known import CohortData, Known
from tests.analytics import cohort

DAYS = (2, 40, 90, 200, 370)


def everything() -> Data:
    """Return six cases whose films and harms differ, so that every kind of verdict occurs."""
    cases = [{"injury_kind": kind} for kind in ("lateral_clavicle", "ac_joint")] * 3
    films = [
        cohort.film(
            day,
            9.0 + number * place,
            9.0,
            procedure_id=number,
            union=("none", "none", "partial", "united", "united")[place],
            translation_pct=10 * number * place,
        )
        for number in range(1, 6)
        for place, day in enumerate(DAYS)
    ]
    numbered = [{**film, "film_id": n, "reading_id": n} for n, film in enumerate(films, 1)]
    harms = [cohort.harm(30, procedure_id=2), cohort.harm(60, "infection_deep", procedure_id=6)]
    return cohort.data(cases, numbered, harms)


def cut(whole: Data, keys: list[int], asked: list[Any] | None = None) -> CohortData:
    """Return the data of some cases, noting what was loaded."""

    def load(name: str) -> pd.DataFrame:
        if asked is not None:
            asked.append(name)
        found: pd.DataFrame = getattr(whole, name)
        return found

    def verdicts(definition: EndpointDefinition) -> pd.DataFrame:
        return apply(definition, whole).verdicts

    return CohortData(whole.cases.loc[keys], whole.cutoff, load, verdicts)


@pytest.mark.parametrize("definition", DEFINITIONS.values(), ids=lambda one: one.id)
@pytest.mark.parametrize("keys", [[1, 2, 3, 4, 5, 6], [2, 5], []])
def test_known_verdicts_are_those_of_the_cohort_alone(
    definition: EndpointDefinition, keys: list[int]
) -> None:
    whole = everything()
    some = cut(whole, keys)
    alone = apply(definition, Data(some.cases, some.readings, some.complications, whole.cutoff))
    known = apply(definition, some)
    assert isinstance(known, Known)
    pd.testing.assert_frame_equal(known.verdicts, alone.verdicts, check_dtype=False)
    pd.testing.assert_frame_equal(known.films, alone.films)
    pd.testing.assert_frame_equal(known.readings, alone.readings)


def test_nothing_is_loaded_for_verdicts_and_films_only_when_asked_for() -> None:
    asked: list[str] = []
    known = apply(DEFINITIONS["rise-3mm"], cut(everything(), [1, 2], asked))
    assert len(known.verdicts) == 2
    assert asked == []
    assert set(known.films["procedure_id"]) == {1, 2}
    assert "readings" in asked


def test_one_case_is_gone_through_alone() -> None:
    whole = everything()
    for applied in (apply(DEFINITIONS["rise-3mm"], data) for data in (whole, cut(whole, [1, 2]))):
        mine = applied.of([2])
        assert mine.verdicts.index.tolist() == [2]
        assert set(mine.films["procedure_id"]) == {2}
        assert set(mine.readings["procedure_id"]) == {2}
        with pytest.raises(KeyError):
            applied.of([99])


def test_what_is_neither_data_nor_verdict_is_not_there() -> None:
    data = cut(everything(), [1])
    with pytest.raises(AttributeError, match="colour"):
        _ = data.colour  # type: ignore[attr-defined]
    with pytest.raises(AttributeError, match="colour"):
        _ = apply(DEFINITIONS["rise-3mm"], data).colour  # type: ignore[attr-defined]
