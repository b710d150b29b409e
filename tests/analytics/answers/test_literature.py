"""Published counts beside ours: pooled, marked, and told apart from targets."""

import math
from typing import Any

import pytest

from analytics.answers.horizons import HORIZONS
from analytics.answers.literature import (
    NO_TARGET,
    Literature,
    LiteratureAnswer,
    answer,
    read,
    to_rows,
)
from analytics.endpoints.catalogue import DEFINITIONS
from tests.analytics.cohort import data, film

ROW: dict[str, Any] = {
    "source": "A",
    "construct": "HP",
    "injury": "ac_joint",
    "endpoint": "loss_of_reduction",
    "events": 3,
    "total": 20,
    "status": "found",
    "definition": "more than 3 mm",
    "differs": "",
    "like": ["rise-3mm"],
}
SOURCES = {"A": "Author A 2017;2:7", "B": "Author B 2019"}


def carried(*rows: dict[str, Any], contradictions: Any = ()) -> Literature:
    filled = [{**ROW, **row} for row in rows]
    raw = {
        "sources": SOURCES,
        "rows": filled,
        "contradictions": list(contradictions),
        "left_out": ["Infection: not told apart."],
    }
    return read(raw)


def ours(*rows: dict[str, Any], **options: Any) -> LiteratureAnswer:
    cases = [{"construct_type": "HP", "injury_kind": "ac_joint"}] * 4
    films = [film(2, 9.0, procedure_id=case) for case in (1, 2, 3, 4)]
    films += [film(90, 14.0, procedure_id=1)]
    films += [film(400, 9.2, procedure_id=case) for case in (2, 3)]
    definition = DEFINITIONS[options.pop("definition", "rise-3mm")]
    found = carried(*rows, contradictions=options.pop("contradictions", ()))
    return answer(found, data(cases, films), definition, HORIZONS["12m"], **options)


def test_our_rate_of_the_same_construct_stands_beside_the_published_counts() -> None:
    (hook,) = ours({}, {"source": "B", "events": 5}).comparisons
    assert hook.local is not None
    assert (hook.local.events, hook.local.evaluable) == (1, 3)
    assert [(row.count.events, row.count.total) for row in hook.rows] == [(3, 20), (5, 20)]
    # Wilson's limits of 3 of 20: Mori et al. 2017's count, own arithmetic.
    assert hook.rows[0].rate.low == pytest.approx(0.052, abs=0.0005)
    assert hook.rows[0].rate.high == pytest.approx(0.360, abs=0.0005)


def test_two_series_or_more_are_pooled_with_their_sums() -> None:
    (hook,) = ours({}, {"source": "B", "events": 5}, {"events": 2, "total": 30}).comparisons
    assert hook.pooled is not None
    assert (hook.pooled_events, hook.pooled_total) == (10, 70)
    assert hook.pooled.low < 10 / 70 < hook.pooled.high
    assert hook.pooled.prediction_low <= hook.pooled.low
    assert "3 series, 10 of 70; pooled" in hook.sentence
    assert "95% prediction interval for the true rate of one more unit" in hook.sentence
    assert hook.sentence.endswith("Ours: 1 of 3 judged, 33.3% (95% interval 6.1% to 79.2%).")


def test_one_series_alone_is_not_pooled() -> None:
    (hook,) = ours({}).comparisons
    assert hook.pooled is None
    assert hook.sentence.startswith("Too few series to pool.")


def test_with_two_series_the_prediction_is_said_to_be_unknown() -> None:
    (hook,) = ours({}, {"source": "B", "events": 9}).comparisons
    assert hook.pooled is not None
    assert math.isnan(hook.pooled.prediction_low)
    assert "is not known" in hook.sentence
    assert "nan" not in hook.sentence
    assert to_rows(ours({}, {"source": "B", "events": 9}))[-1]["prediction_low"] is None


def test_what_is_from_memory_is_shown_and_marked_but_not_pooled() -> None:
    result = ours({}, {"source": "B", "status": "memory"})
    (hook,) = result.comparisons
    assert hook.pooled is None
    assert "From memory" in hook.rows[1].differences[-1]
    assert "From memory: 1." in result.sentence


def test_an_inferred_number_of_events_is_marked_and_pooled() -> None:
    (hook,) = ours({}, {"source": "B", "status": "inferred"}).comparisons
    assert "inferred from a printed percentage" in hook.rows[1].differences[-1]
    assert hook.pooled is not None


def test_another_rule_is_said_with_both() -> None:
    (hook,) = ours({"like": [], "differs": "no threshold"}).comparisons
    assert hook.rows[0].differences[0] == (
        "Another rule. Theirs: more than 3 mm; ours: CC distance more than 3 mm above the first film."
    )
    assert "No threshold." in hook.rows[0].differences
    (hook,) = ours({}).comparisons
    assert hook.rows[0].differences[0] == "The same rule as ours: more than 3 mm."


def test_other_patients_and_another_time_are_said() -> None:
    (hook,) = ours({"injury": "lateral_clavicle"}).comparisons
    assert "Theirs are fractures only; ours: AC joints." in hook.rows[0].differences
    assert "Theirs at the last look, whenever it was; ours by 12 months." in (
        hook.rows[0].differences
    )


def test_an_injury_leaves_only_counts_of_that_injury() -> None:
    result = ours({}, {"source": "B", "injury": "lateral_clavicle"}, injury="ac_joint")
    assert [row.count.source for row in result.comparisons[0].rows] == ["A"]


def test_a_construct_that_nobody_here_has_had_has_no_rate_of_ours() -> None:
    (graft,) = ours({"construct": "TG"}).comparisons
    assert graft.local is None
    assert "Nobody here can be judged" in graft.sentence


def test_constructs_that_are_not_told_apart_come_last_beside_all_of_ours() -> None:
    result = ours({"construct": ""}, {})
    assert [one.construct for one in result.comparisons] == ["HP", ""]
    assert result.comparisons[1].local == result.comparisons[0].local


def test_it_says_how_many_there_are_and_how_many_are_alike() -> None:
    assert ours({}, {"source": "B", "like": []}).sentence == (
        "2 published counts of 2 sources for 1 kind of construct; 1 by a rule like ours."
    )
    assert "They are no targets" in NO_TARGET


def test_an_endpoint_without_a_count_says_so() -> None:
    result = ours({}, definition="union-film")
    assert result.comparisons == ()
    assert "No published count of 'Union on films'" in result.sentence


def test_contradictions_of_the_endpoint_are_named_with_their_sources() -> None:
    said = [
        {"endpoints": ["loss_of_reduction"], "words": "12 of 16 is no 68 %.", "sources": ["A"]},
        {"endpoints": ["union"], "words": "Another matter.", "sources": []},
    ]
    (one,) = ours({}, contradictions=said).contradictions
    assert (one.words, one.citations) == ("12 of 16 is no 68 %.", ("Author A 2017;2:7",))


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"events": 21}, "published count 2: 21 of 20 cannot be"),
        ({"events": -1}, "published count 2: -1 of 20"),
        ({"total": 0, "events": 0}, "0 of 0"),
        ({"status": "guessed"}, "'guessed' is no status"),
        ({"source": "C"}, "'C' is no source"),
    ],
)
def test_a_row_that_cannot_be_is_refused_by_its_place(wrong: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        carried({}, wrong)


def test_rows_for_a_file_have_ours_theirs_and_the_pooled_one() -> None:
    rows = to_rows(ours({}, {"source": "B", "events": 5}))
    assert [row["what"] for row in rows] == [
        "ours",
        "Author A 2017;2:7",
        "Author B 2019",
        "pooled",
    ]
    assert rows[1]["injury"] == "ac_joint"
    assert len({tuple(row) for row in rows}) == 1
