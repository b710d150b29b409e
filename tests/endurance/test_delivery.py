"""Real workers, killed again and again while they send: nothing is lost and nothing goes twice.

`pytest -rP tests/endurance` prints the counts. tests/bench/kill_delivery.py runs it larger.
"""

from pathlib import Path

import pytest

from tests.bench.kill_delivery import Found, embedded, on_redis, run

# The longest is for machines that are busy with other things.
MESSAGES, KILLS, LONGEST_SECONDS = 250, 10, 600


def judge(found: Found) -> None:
    """Hold the counts of a run against what is promised."""
    print(found.words())  # noqa: T201 - to be quoted
    # It was a trial at all: workers died with messages in their hands.
    assert found.hands_killed + found.whole_workers_killed >= KILLS // 2
    assert found.kills_while_answer_was_held > 0
    assert found.parked_and_taken > 0
    # A provider that can be asked: every message is sent, and the provider counts each once.
    assert found.states[("letter", "sent")] == MESSAGES
    assert found.taken_exactly_once["letter"] == MESSAGES
    # One that cannot: sent, or parked for a person with the reason; none lost.
    parked = found.states[("text", "unknown")]
    assert found.states[("text", "sent")] + parked == MESSAGES
    assert found.parked_without_reason == 0
    assert found.messages == 2 * MESSAGES == found.states.total()
    # None goes twice, and none is called sent that nobody took.
    assert found.received_twice == 0
    assert found.sent_but_never_received == 0


@pytest.mark.needs_redis
def test_the_embedded_default_loses_nothing_and_doubles_nothing(tmp_path: Path) -> None:
    with embedded(tmp_path) as setting:
        found = run(
            setting, tmp_path, messages=MESSAGES, kills=KILLS, seed=1, longest=LONGEST_SECONDS
        )
    judge(found)


@pytest.mark.needs_redis
@pytest.mark.needs_postgres
def test_workers_on_redis_lose_nothing_and_double_nothing(tmp_path: Path) -> None:
    with on_redis(tmp_path) as setting:
        found = run(
            setting, tmp_path, messages=MESSAGES, kills=KILLS, seed=2, longest=LONGEST_SECONDS
        )
    judge(found)
