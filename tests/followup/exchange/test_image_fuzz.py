"""Damaged and hostile files: refused or taken, never a crash, a name let through or memory eaten.

A few hundred here; HOLDFAST_FUZZ_FILES asks for more (`HOLDFAST_FUZZ_FILES=4000 pytest <this file>`).
They run in processes of their own, whose memory is bounded and measured.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]
FILES = int(os.environ.get("HOLDFAST_FUZZ_FILES", "300"))
CHUNK = 150
MEMORY_MB = 1500


@pytest.mark.parametrize("chunk", range(-(-FILES // CHUNK)))
def test_mutated_files_do_no_harm(chunk: int) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.followup.exchange.fuzzed", str(chunk), str(CHUNK)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=1200,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    found = json.loads(done.stdout.splitlines()[-1])
    assert found["faults"] == []
    assert found["taken"] + found["refused"] + found["stopped"] == CHUNK
    assert found["refused"] > 0
    assert found["taken"] > 0
    assert 0 < found["peak_mb"] < MEMORY_MB
