import pandas as pd
import pytest

from analytics.endpoints.catalogue import DEFINITIONS, apply
from tests.analytics.cohort import data, film, on

UNION = DEFINITIONS["union-film"]


def day(number: int) -> pd.Timestamp:
    return pd.Timestamp(on(number))


def test_a_fracture_unites_between_two_films() -> None:
    case = data(
        films=[film(42, union="none"), film(90, union="partial"), film(180, union="united")]
    )
    verdict = apply(UNION, case).verdicts.loc[1]
    assert (verdict["seen_until"], verdict["event_on"]) == (day(90), day(180))


def test_one_doubting_reader_is_enough_to_wait() -> None:
    pair = [film(90, union="united", film_id=9), film(90, union="none", film_id=9, reader_id=2)]
    verdict = apply(UNION, data(films=pair)).verdicts.loc[1]
    assert pd.isna(verdict["event_on"])
    assert verdict["seen_until"] == day(90)


def test_a_film_that_nobody_judged_says_nothing() -> None:
    verdict = apply(UNION, data(films=[film(90, union="not_judged")])).verdicts.loc[1]
    assert verdict[["event_on", "seen_until"]].isna().all()
    assert verdict["not_evaluable"] == ""


def test_a_torn_joint_has_nothing_to_unite() -> None:
    case = data([{"injury_kind": "ac_joint"}], [film(90, union="united")])
    assert apply(UNION, case).verdicts.loc[1, "not_evaluable"] == "not_a_fracture"


def test_union_after_a_revision_is_not_the_first_operations() -> None:
    case = data([{"revised_on": on(100)}], [film(90, union="none"), film(300, union="united")])
    verdict = apply(UNION, case).verdicts.loc[1]
    assert pd.isna(verdict["event_on"])
    assert verdict["competing_on"] == day(100)


@pytest.mark.parametrize("cases", [[], [{}]])
def test_without_films_nobody_has_united(cases: list[dict[str, object]]) -> None:
    assert apply(UNION, data(cases)).verdicts["event_on"].isna().all()
