import pandas as pd

from analytics.answers import flow
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import DEFINITIONS, apply
from analytics.figures.flow import boxes, flow_words
from tests.analytics.cohort import data, film, on

YEAR = HORIZONS["12m"]


def found(cases: "list[dict[str, object]]", films: "list[dict[str, object]]") -> flow.Flow:
    cohort = data(cases, films)
    applied = apply(DEFINITIONS["rise-3mm"], cohort)
    placed = flow.places(applied, cohort.cases, YEAR, pd.Timestamp(cohort.cutoff))
    return flow.flow(placed, YEAR)


SOME = found(
    [{"last_seen_on": on(400)}, {}, {"patient_status": "moved", "status_on": on(9)}],
    [film(2, 9.0), film(370, 9.1)],
)


def test_each_box_has_its_share_of_those_operated_and_who_left() -> None:
    drawn = boxes(SOME)
    assert [box.part.number for box in drawn] == [3, 3, 1, 1, 1]
    assert drawn[1].share == "100.0%"
    assert drawn[2].share == "33.3%"
    assert [box.gone for box in drawn] == [0, 2, 0, 0, 0]


def test_words_have_every_number_of_the_diagram() -> None:
    said = flow_words(SOME)
    assert said.startswith("By 12 months. Operated: 3. Operated long enough ago: 3, of whom 2 ")
    assert "1 not seen at or after the horizon; 1 moved away" in said
    assert said.endswith("Analysed: 1. Of those analysed, 1 had not.")


def test_nobody_is_drawn_as_nought_without_a_share() -> None:
    nobody = found([], [])
    assert {(box.part.number, box.share) for box in boxes(nobody)} == {(0, "")}
    assert "Analysed: 0." in flow_words(nobody)
