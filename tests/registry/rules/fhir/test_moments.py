from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest

from registry.rules.dates import Bounds
from registry.rules.fhir import moments


@pytest.mark.parametrize(
    ("earliest", "latest", "written"),
    [
        (date(2026, 3, 2), date(2026, 3, 2), {"onsetDateTime": "2026-03-02"}),
        (date(2026, 3, 1), date(2026, 3, 31), {"onsetDateTime": "2026-03"}),
        (date(2024, 2, 1), date(2024, 2, 29), {"onsetDateTime": "2024-02"}),
        (date(2026, 1, 1), date(2026, 12, 31), {"onsetDateTime": "2026"}),
        (
            date(2026, 3, 2),
            date(2026, 3, 9),
            {"onsetPeriod": {"start": "2026-03-02", "end": "2026-03-09"}},
        ),
        (None, None, {}),
    ],
)
def test_a_span_is_a_partial_date_where_fhir_can_say_it(
    earliest: date | None, latest: date | None, written: dict[str, Any]
) -> None:
    assert moments.span("onset", earliest, latest) == written


@pytest.mark.parametrize(
    ("text", "earliest", "latest"),
    [
        ("2026", date(2026, 1, 1), date(2026, 12, 31)),
        ("2024-02", date(2024, 2, 1), date(2024, 2, 29)),
        ("2026-03-02", date(2026, 3, 2), date(2026, 3, 2)),
        # The day is that of whoever wrote it, whichever day it is elsewhere.
        ("2026-03-02T00:30:00+01:00", date(2026, 3, 2), date(2026, 3, 2)),
        ("2026-03-02T23:30:00Z", date(2026, 3, 2), date(2026, 3, 2)),
    ],
)
def test_a_date_is_read_with_its_bounds(text: str, earliest: date, latest: date) -> None:
    assert moments.read(text) == Bounds(earliest, latest)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("13/04/2026", "no FHIR date"),
        ("2026-03-02T10:00", "no zone"),
        ("2026-03-02T10:00:00", "no zone"),
        ("2026-02-30", "not a possible date"),
        ("2026-03-02T25:00:00Z", "not a possible moment"),
        ("2026-3-2", "no FHIR date"),
        ("", "no FHIR date"),
    ],
)
def test_what_is_no_date_is_refused_with_words(text: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        moments.read(text)


def test_an_instant_is_written_in_utc_and_read_again() -> None:
    summer = datetime(2026, 7, 1, 9, 30, 0, 123456, timezone(timedelta(hours=1)))
    assert moments.instant(summer) == "2026-07-01T08:30:00.123Z"
    assert moments.read_moment("2026-07-01T08:30:00Z") == datetime(2026, 7, 1, 8, 30, tzinfo=UTC)
    with pytest.raises(ValueError, match="no instant"):
        moments.read_moment("2026-07-01")


def test_a_date_of_a_query_has_its_prefix_and_its_precision() -> None:
    asked = moments.asked("ge2026-03")
    assert (asked.prefix, asked.days) == ("ge", Bounds(date(2026, 3, 1), date(2026, 3, 31)))
    second = moments.asked("2026-03-02T10:00:00Z")
    assert second.prefix == "eq"
    assert second.last - second.first == timedelta(seconds=1, microseconds=-1)
    # What was written in thousandths is found by them.
    exact = datetime(2026, 3, 2, 10, 0, 0, 123456, tzinfo=UTC)
    told = moments.asked(moments.instant(exact))
    assert told.first <= exact <= told.last
    assert told.last - told.first == timedelta(milliseconds=1, microseconds=-1)
    micro = moments.asked("2026-03-02T10:00:00.123456Z")
    assert (micro.first, micro.last) == (exact, exact)


def test_about_is_a_tenth_of_the_time_since_then() -> None:
    now = datetime(2026, 4, 11, tzinfo=UTC)
    wide = moments.about(moments.asked("ap2026-01-01"), now)
    assert wide.days.earliest < date(2025, 12, 24)
    assert wide.days.latest > date(2026, 1, 9)


def test_a_month_is_partial_and_a_week_is_not() -> None:
    assert moments.is_partial(Bounds(date(2026, 4, 1), date(2026, 4, 30)))
    assert not moments.is_partial(Bounds(date(2026, 4, 1), date(2026, 4, 29)))
    assert not moments.is_partial(Bounds(date(2026, 1, 1), date(2027, 12, 31)))
