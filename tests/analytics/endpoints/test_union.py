from typing import Any

import pandas as pd
import pytest

from analytics.answers.horizons import HORIZONS, states_at
from analytics.endpoints.catalogue import DEFINITIONS, apply
from analytics.endpoints.definition import Data, EndpointDefinition
from tests.analytics.cohort import CUTOFF, data, film, on

UNION, NONUNION, DELAYED = (
    DEFINITIONS[name] for name in ("union-film", "nonunion-6m", "delayed-union-6m")
)


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


# Six months after the operation of 10 Jan 2024 is 10 Jul: day 182.
SIX = 182


def course(*films: tuple[int, str], **case: Any) -> Data:
    return data([case], [film(at, union=word) for at, word in films])


@pytest.mark.parametrize(
    ("films", "nonunion", "delayed", "unknown"),
    [
        # Not united at six months, and never seen united.
        (((90, "none"), (SIX, "partial")), True, False, ""),
        # Not united at six months, united later.
        (((SIX + 5, "none"), (300, "united")), True, True, ""),
        # United before, or on the film of the six-month review.
        (((90, "united"),), False, False, ""),
        (((90, "none"), (SIX + 60, "united")), False, False, ""),
        # United after the review's window, and no film told at six months.
        (((90, "none"), (SIX + 61, "united")), False, False, "between"),
        # The film came a day too early to tell.
        (((SIX - 1, "none"),), False, False, ""),
        (((SIX - 1, "none"), (400, "united")), False, False, "between"),
        ((), False, False, ""),
    ],
)
def test_six_months_part_union_delayed_union_and_nonunion(
    films: tuple[tuple[int, str], ...], nonunion: bool, delayed: bool, unknown: str
) -> None:
    given = course(*films)
    at_six, later = (apply(one, given).verdicts.loc[1] for one in (NONUNION, DELAYED))
    assert pd.notna(at_six["event_on"]) is nonunion
    assert pd.notna(later["event_on"]) is delayed
    assert at_six["unknown"] == later["unknown"] == unknown


def test_nonunion_is_known_to_the_day_and_delayed_union_lies_between_two_films() -> None:
    given = course((200, "none"), (250, "none"), (300, "united"))
    at_six = apply(NONUNION, given).verdicts.loc[1]
    assert at_six["event_on"] == at_six["seen_until"] == day(SIX)
    late = apply(DELAYED, given).verdicts.loc[1]
    assert (late["seen_until"], late["event_on"]) == (day(250), day(300))
    assert [late["seen_film"], late["event_film"], at_six["event_film"]] == [2, 3, 2]


def test_what_united_in_time_is_settled_for_good() -> None:
    for definition in (NONUNION, DELAYED):
        verdict = apply(definition, course((90, "united"))).verdicts.loc[1]
        assert verdict["seen_until"] == pd.Timestamp(CUTOFF)
        assert verdict["seen_film"] == 1


def test_denominators_are_the_fractures_whose_course_is_known() -> None:
    """Ten: 5 united in time, 2 late, 1 not yet, 1 seen too late to tell, 1 never filmed."""
    courses = [
        *[[(90, "united")]] * 5,
        *[[(200, "none"), (330, "united")]] * 2,
        [(200, "none"), (380, "none")],
        [(90, "none"), (330, "united")],
        [],
    ]
    films = [
        film(at, union=word, procedure_id=number)
        for number, taken in enumerate(courses, 1)
        for at, word in taken
    ]
    given = data([{} for _ in courses], films)
    found = {}
    for definition, horizon in ((NONUNION, "6m"), (DELAYED, "12m")):
        states = states_at(
            apply(definition, given), given.cases, HORIZONS[horizon], pd.Timestamp(CUTOFF)
        )
        found[definition.id] = states["state"].value_counts().to_dict()
        assert states["reason"].loc[[9, 10]].tolist() == ["between", "no_film"]
    assert found["nonunion-6m"] == {"held": 5, "event": 3, "not_evaluable": 2}
    assert found["delayed-union-6m"] == {"held": 6, "event": 2, "not_evaluable": 2}


@pytest.mark.parametrize("definition", [NONUNION, DELAYED])
def test_a_revision_before_six_months_comes_first(definition: EndpointDefinition) -> None:
    given = course((90, "none"), (200, "none"), (300, "united"), revised_on=on(100))
    verdict = apply(definition, given).verdicts.loc[1]
    assert pd.isna(verdict["event_on"])
    assert verdict["competing"] == "revision"
