"""How long a guesser waits."""

from datetime import timedelta

import pytest

from registry.rules.sign_in_waits import (
    ACCOUNT,
    ADDRESS,
    DEVICE,
    FORGOTTEN,
    LIMITS,
    PAIR,
    failures_now,
    in_words,
    same_account,
    still_to_wait,
)

NOW = timedelta(0)


def test_the_first_failures_are_free_and_then_each_wait_is_twice_the_last() -> None:
    waits = [still_to_wait(PAIR, failures, NOW).total_seconds() for failures in range(13)]
    assert waits == [0, 0, 0, 0, 0, 15, 30, 60, 120, 240, 480, 900, 900]


@pytest.mark.parametrize("kind", [DEVICE, PAIR, ACCOUNT, ADDRESS])
def test_a_wait_grows_to_its_most_and_never_beyond(kind: str) -> None:
    waits = [LIMITS[kind].wait_after(failures) for failures in range(10_000)]
    assert waits == sorted(waits)
    assert waits[-1] == LIMITS[kind].most


def test_a_wait_runs_out() -> None:
    assert still_to_wait(PAIR, 5, timedelta(seconds=4)) == timedelta(seconds=11)
    assert still_to_wait(PAIR, 5, timedelta(seconds=15)) == timedelta(0)


def test_failures_are_forgotten_in_the_end() -> None:
    after = LIMITS[PAIR].forgotten_after
    assert failures_now(PAIR, 7, after - timedelta(seconds=1)) == 7
    assert failures_now(PAIR, 7, after) == 0
    assert max(limit.forgotten_after for limit in LIMITS.values()) == FORGOTTEN


def test_one_account_is_not_guessed_at_a_hundred_times_in_an_hour() -> None:
    # From as many addresses as one likes, each as early as the account's own count lets it.
    failures, clock = 0, timedelta(0)
    while clock < timedelta(hours=1):
        failures += 1
        clock += LIMITS[ACCOUNT].wait_after(failures)
    assert failures < 100


@pytest.mark.parametrize("typed", ["SELMA", " selma ", "Selma", "\u017felma"])
def test_every_spelling_that_the_database_takes_is_one_account(typed: str) -> None:
    assert same_account(typed) == same_account("selma")


def test_a_dotless_letter_is_no_further_account() -> None:
    # PostgreSQL: upper('\u0131') is 'I', and so is upper('i').
    assert same_account("adm\u0131n") == same_account("admin")


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(1, "1 second"), (14.2, "15 seconds"), (60, "1 minute"), (61, "2 minutes")],
)
def test_a_wait_is_said_rounded_up(seconds: float, words: str) -> None:
    assert in_words(timedelta(seconds=seconds)) == words
