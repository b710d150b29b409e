from datetime import date, datetime, time, timedelta

import pytest

from registry.rules import job_words


@pytest.mark.parametrize(
    ("outcome", "counts", "fault", "said"),
    [
        ("good", {"planned": 1, "lapsed": 2}, "", "1 planned, 2 lapsed."),
        ("good", {}, "", "Done."),
        ("failed", {}, "no disk", "It did not end well: no disk."),
        ("died", {}, "it was killed", "It did not end well: it was killed."),
        ("busy", {}, "", "Another run of this is under way; nothing was done here."),
        ("running", {}, "", "It is under way."),
    ],
)
def test_each_outcome_has_its_sentence(
    outcome: str, counts: dict[str, int], fault: str, said: str
) -> None:
    assert job_words.sentence(outcome, counts, fault) == said


def test_a_night_is_owed_from_its_hour_on() -> None:
    due = time(1, 10)
    assert job_words.day_owed(datetime(2026, 3, 5, 1, 10), due) == date(2026, 3, 5)  # noqa: DTZ001
    assert job_words.day_owed(datetime(2026, 3, 5, 1, 9), due) == date(2026, 3, 4)  # noqa: DTZ001


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0.44, "0.4 s"), (12, "12 s"), (200, "3 min"), (7500, "2 h 5 min")],
)
def test_a_duration_is_said_as_a_person_would(seconds: float, said: str) -> None:
    assert job_words.duration(timedelta(seconds=seconds)) == said
