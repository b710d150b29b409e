"""The published counts that ship: each can be, has its source, and stands beside our own codes."""

import pytest

from analytics.endpoints.catalogue import DEFINITIONS, endpoints
from analytics.estimators.proportions import wilson
from analytics.figures.template import KNOWN_ORDER
from analytics.selectors.literature import literature_answer, published
from tests.analytics.records import calls_its_own, held, lost
from tests.analytics.selectors.test_outcomes import view

COUNTS = published().counts


def test_every_count_is_of_a_construct_and_endpoint_of_ours() -> None:
    assert len(COUNTS) > 40
    assert {count.construct for count in COUNTS} <= {*KNOWN_ORDER, ""}
    assert {count.endpoint for count in COUNTS} <= set(endpoints())
    assert {count.injury for count in COUNTS} == {"lateral_clavicle", "ac_joint"}


def test_every_rule_that_is_called_alike_is_a_definition_of_its_endpoint() -> None:
    for count in COUNTS:
        for name in count.like:
            assert DEFINITIONS[name].endpoint == count.endpoint


def test_every_count_says_what_was_counted_and_where_it_stands() -> None:
    for count in COUNTS:
        assert count.citation
        assert count.definition
        assert count.differs or count.like
    assert sum(count.status == "memory" for count in COUNTS) == 6


# Printed with the counts, or own arithmetic from them: per cent, and Wilson's limits.
PRINTED = [
    ("T12", "union", 27, 28, 96.43, 82.3, 99.4),
    ("T12", "subacromial_osteolysis", 7, 28, 25.0, 12.7, 43.4),
    ("KM15", "unplanned_reoperation", 2, 32, 6.25, 1.7, 20.1),
    ("FE26", "subacromial_osteolysis", 60, 92, 65.22, 55.1, 74.2),
    ("BM21", "loss_of_reduction", 4, 30, 13.33, 5.3, 29.7),
    ("MR17", "loss_of_reduction", 3, 20, 15.0, 5.2, 36.0),
    ("LU20", "loss_of_reduction", 9, 23, 39.13, 22.2, 59.2),
    ("K10", "peri_implant_fracture", 3, 22, 13.64, 4.7, 33.3),
    ("RB", "unplanned_reoperation", 16, 38, 42.11, 27.9, 57.8),
]


@pytest.mark.parametrize("printed", PRINTED, ids=lambda row: f"{row[0]} {row[1]}")
def test_counts_are_the_papers(printed: tuple[str, str, int, int, float, float, float]) -> None:
    source, endpoint, events, total, share, low, high = printed
    found = [
        count
        for count in COUNTS
        if (count.source, count.endpoint, count.events) == (source, endpoint, events)
    ]
    assert [count.total for count in found] == [total]
    rate = wilson(events, total)
    assert 100 * rate.estimate == pytest.approx(share, abs=0.005)
    assert (100 * rate.low, 100 * rate.high) == pytest.approx((low, high), abs=0.06)


@pytest.mark.usefixtures("defaults")
def test_a_views_own_rates_stand_beside_them() -> None:
    for _ in range(3):
        held(construct="HP")
    lost(construct="HP")
    result = literature_answer(view())
    hook = next(one for one in result.comparisons if one.construct == "HP")
    assert hook.local is not None
    assert (hook.local.events, hook.local.evaluable) == (1, 4)
    assert len(hook.rows) == 3


@pytest.mark.usefixtures("defaults")
def test_a_view_of_one_injury_has_counts_of_that_injury_alone() -> None:
    calls_its_own()
    result = literature_answer(view(kind="lateral_clavicle"))
    assert {row.count.injury for one in result.comparisons for row in one.rows} == {
        "lateral_clavicle"
    }
