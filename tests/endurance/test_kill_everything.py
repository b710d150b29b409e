"""Each part of a running service is killed in the middle of a work: nothing is lost, nothing there twice.

`pytest -rP tests/endurance` prints the counts. tests/bench/kill_everything.py kills each in every work.
"""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.bench.kill_everything import table

ROOT = Path(__file__).resolve().parents[2]
# Each work once, each part at least once; all pairs take a quarter of an hour.
PAIRS = (
    *("import:worker", "import:database", "messages:broker"),
    *("upload:web", "merge:database", "snapshot:beat", "pack:worker"),
)


@pytest.mark.timeout(1800)
@pytest.mark.needs_redis
@pytest.mark.needs_postgres
def test_whatever_is_killed_nothing_is_lost_and_nothing_is_there_twice() -> None:
    words = ["--pairs", ",".join(PAIRS), "--json"]
    done = subprocess.run(
        [sys.executable, "tests/bench/kill_everything.py", *words],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=1750,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-4000:]
    found = json.loads(done.stdout)
    print(table(found))  # noqa: T201 - to be quoted
    rows = found["rows"]
    assert [f"{row['work']}:{row['killed']}" for row in rows] == list(PAIRS)
    # It was a trial at all: most were killed before they were done.
    assert sum(row["in_the_middle"] for row in rows) >= len(PAIRS) // 2
    counts = [(row["lost"], row["doubled"], row["not_ended"]) for row in rows]
    assert counts == [(0, 0, 0)] * len(PAIRS), table(found)
    assert found["broken"] == []
