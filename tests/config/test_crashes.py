"""A process that is killed in the middle of the night does no harm: the night is run again."""

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CASES = 24
NTH = 20
# Long ago, so that everything that was open then has something to happen to it tonight.
UNTIL = "2025-06-01"
STATES = (
    "SELECT id, step_id, state, opens_on, due_on, closes_on, proposed_on, attended_on, "
    "complete, ended_because, missed_count FROM followup_review ORDER BY id"
)
# A command that is killed as its nth review is about to lapse.
KILLED = """
import sys
import django
django.setup()
from django.core.management import call_command
from tests import dying
dying.at('UPDATE "followup_review"', int(sys.argv[1]))
call_command(*sys.argv[2:])
"""
SLOTS = 'SELECT id, state, "on", at FROM followup_appointment ORDER BY id'


def started(data: Path, *words: str) -> "subprocess.Popen[str]":
    return running(data, "manage.py", *words)


def running(data: Path, *words: str) -> "subprocess.Popen[str]":
    kept = {key: value for key, value in os.environ.items() if not key.startswith("HOLDFAST_")}
    given = {"HOLDFAST_DATA_DIR": str(data), "DJANGO_SETTINGS_MODULE": "config.settings"}
    return subprocess.Popen(
        [sys.executable, *words],
        cwd=ROOT,
        env={**kept, **given},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def done(data: Path, *words: str) -> str:
    process = started(data, *words)
    said, faults = process.communicate(timeout=300)
    assert process.returncode == 0, faults
    return said


def asked(data: Path, query: str) -> list[tuple[object, ...]]:
    with sqlite3.connect(data / "holdfast.sqlite3", timeout=30) as link:
        return link.execute(query).fetchall()


def lapsed(data: Path) -> int:
    return int(
        str(asked(data, "SELECT count(*) FROM followup_review WHERE state = 'lapsed'")[0][0])
    )


def stands(data: Path) -> tuple[list[tuple[object, ...]], ...]:
    return asked(data, STATES), asked(data, SLOTS)


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a service whose nights have not run for a year and a half."""
    data = tmp_path_factory.mktemp("evening")
    done(data, "migrate", "-v0")
    done(data, "load_defaults")
    size = (f"--procedures={CASES}", "--sites=1", f"--until={UNTIL}", "--rows-only")
    done(data, "make_cohort", *size)
    return data


@pytest.fixture(scope="module")
def undisturbed(evening: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    data = shutil.copytree(evening, tmp_path_factory.mktemp("undisturbed") / "data")
    done(data, "sweep_reviews")
    assert lapsed(data) > lapsed(evening) + 20
    return data


def test_a_night_that_is_killed_in_the_middle_ends_as_one_undisturbed(
    evening: Path, undisturbed: Path, tmp_path: Path
) -> None:
    data = shutil.copytree(evening, tmp_path / "data")
    before, after = lapsed(data), lapsed(undisturbed)
    process = running(data, "-c", KILLED, str(NTH), "sweep_reviews")
    _, faults = process.communicate(timeout=300)
    assert process.returncode == -signal.SIGKILL, faults
    assert before < lapsed(data) < after
    assert "Another run of this is under way" in done(data, "sweep_reviews")
    _let_the_lease_run_out(data)
    assert f"{after - lapsed(data)} reviews lapsed" in done(data, "sweep_reviews")
    assert stands(data) == stands(undisturbed)
    outcomes = asked(data, "SELECT outcome FROM registry_jobrun ORDER BY id")
    assert [outcome for (outcome,) in outcomes] == ["died", "good"]
    done(data, "seal_trail")
    assert "The chain holds" in done(data, "verify_trail")


def _let_the_lease_run_out(data: Path) -> None:
    with sqlite3.connect(data / "holdfast.sqlite3") as link:
        link.execute("UPDATE registry_joblock SET until = '2026-01-01 00:00:00'")
        link.execute("UPDATE registry_jobrun SET beat_at = '2026-01-01 00:00:00'")


def test_two_nights_at_once_do_no_harm(evening: Path, undisturbed: Path, tmp_path: Path) -> None:
    data = shutil.copytree(evening, tmp_path / "data")
    both = [started(data, "sweep_reviews") for _ in range(2)]
    said = [process.communicate(timeout=300) for process in both]
    assert [process.returncode for process in both] == [0, 0], said
    assert stands(data) == stands(undisturbed)
    runs = asked(data, "SELECT outcome, counts FROM registry_jobrun ORDER BY id")
    assert all(outcome == "good" for outcome, _ in runs)
    assert f"{lapsed(undisturbed) - lapsed(evening)} reviews lapsed" in "".join(
        answer for answer, _ in said
    )
