import pandas as pd

from analytics.answers import flow
from analytics.answers.flow import Flow
from analytics.answers.horizons import HORIZONS
from analytics.figures.svg_flow import flow_chart
from tests.analytics.cohort import CASE, CUTOFF, data, film
from tests.analytics.figures.results import result
from tests.analytics.figures.sheets import faults, words_of

GROUPS = {"LP": (12, 6, 3), "HP": (15, 3, 2)}


def found() -> Flow:
    answer = result(GROUPS)
    cases = data([CASE] * len(answer.applied.verdicts)).cases
    horizon = HORIZONS["12m"]
    return flow.flow(flow.places(answer.applied, cases, horizon, pd.Timestamp(CUTOFF)), horizon)


def test_every_stage_and_every_reason_stands_with_its_number() -> None:
    whole = found()
    words = words_of(flow_chart(whole))
    assert words[:3] == ["41", "Operated", "100.0%"]
    for stage in whole.stages:
        assert stage.part.words in words
        for part in stage.left:
            assert f"  {part.number} {part.words}" in words
    for part in whole.ends:
        assert f"{part.number} {part.words}" in words


def test_nothing_is_cut_and_nothing_overlaps() -> None:
    assert faults(flow_chart(found())) == []


def test_an_empty_cohort_is_still_a_drawing() -> None:
    frames = data([{}], [film(2, 9.0)])
    nobody = frames.cases.iloc[:0]
    empty = result({}).applied
    horizon = HORIZONS["12m"]
    made = flow.flow(flow.places(empty, nobody, horizon, pd.Timestamp(CUTOFF)), horizon)
    assert faults(flow_chart(made)) == []
