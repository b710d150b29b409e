"""Between which days a case is seen."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from analytics.simulation.mishaps import Fate
from analytics.simulation.span import Span, span_of

OPERATED = date(2024, 1, 10)
PLAIN = Fate(
    loss_day=None,
    revision_day=None,
    event_day=None,
    event_kind="nerve",
    nonunion=False,
    symptomatic=False,
    removal_day=None,
    ending="active",
    ending_day=None,
)


def span(elapsed: int = 500, **changes: int | None) -> Span:
    return span_of(replace(PLAIN, **changes), OPERATED, OPERATED + timedelta(days=elapsed))


def test_a_case_is_followed_until_yesterday() -> None:
    found = span()
    assert (found.elapsed, found.stops, found.is_followed) == (500, 499, True)


def test_a_schedule_stops_before_the_revision_that_starts_another() -> None:
    found = span(revision_day=100)
    assert (found.revision, found.stops, found.is_followed) == (100, 99, False)


def test_a_schedule_stops_before_the_end_of_follow_up() -> None:
    found = span(ending_day=200)
    assert (found.ended, found.stops, found.is_followed) == (200, 199, False)


@pytest.mark.parametrize("changes", [{"ending_day": 200}, {"revision_day": 150}])
def test_what_would_come_later_does_not_happen(changes: dict[str, int]) -> None:
    assert span(removal_day=250, **changes).removal is None
    assert span(removal_day=120, **changes).removal == 120


def test_an_operation_of_tomorrow_has_not_happened() -> None:
    assert span(elapsed=100, revision_day=100).revision is None
    assert span(elapsed=101, revision_day=100).revision == 100
