from datetime import date

import pytest

from registry.models.retention import RetentionKind
from registry.rules import retention

PATIENTS, UPLOADS = retention.KINDS["patients"], retention.KINDS["uploads"]


def test_every_kind_has_a_code_that_rows_can_hold() -> None:
    assert {*retention.KINDS, *retention.ALSO} == set(RetentionKind.values)


@pytest.mark.parametrize(
    ("keep", "least", "wrong"),
    [(1, None, False), (0, None, True), (151, None, True), (8, 8, False), (7, 8, True)],
)
def test_nothing_is_kept_shorter_than_the_site_says_that_law_asks(
    keep: int, least: int | None, wrong: bool
) -> None:
    assert bool(retention.faults_of(PATIENTS, keep, least)) is wrong


@pytest.mark.parametrize(
    ("today", "keep", "day"),
    [
        (date(2026, 11, 25), 10, date(2016, 11, 25)),
        (date(2024, 2, 29), 1, date(2023, 2, 28)),
        (date(2024, 2, 29), 4, date(2020, 2, 29)),
    ],
)
def test_years_go_back_to_the_same_day(today: date, keep: int, day: date) -> None:
    assert retention.before(PATIENTS, keep, today) == day


def test_days_are_counted() -> None:
    assert retention.before(UPLOADS, 7, date(2026, 3, 3)) == date(2026, 2, 24)


@pytest.mark.parametrize(
    ("keep", "said"),
    [(None, "for as long as nobody decides otherwise"), (1, "1 year"), (10, "10 years")],
)
def test_a_time_is_said_in_words(keep: int | None, said: str) -> None:
    assert retention.so_long(PATIENTS, keep) == said
