"""The import contracts fail when somebody breaks them."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("config", "analytics", "followup", "registry")


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """Give a copy of the code in which a breach may be planted."""
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    for room in ROOMS:
        shutil.copytree(
            ROOT / room, tmp_path / room, ignore=shutil.ignore_patterns("__pycache__", "static")
        )
    return tmp_path


def broken(folder: Path) -> list[str]:
    """Return the names of the contracts that are broken."""
    done = subprocess.run(
        [str(Path(sys.executable).with_name("lint-imports")), "--no-cache", "--no-logo"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
        env={"COLUMNS": "200", "PATH": ""},
    )
    assert "kept" in done.stdout, done.stdout + done.stderr
    return [line.removesuffix(" BROKEN") for line in done.stdout.splitlines() if "BROKEN" in line]


def test_the_code_as_it_stands_keeps_every_contract(copied: Path) -> None:
    assert broken(copied) == []


@pytest.mark.parametrize(
    ("place", "breach", "contract"),
    [
        (
            "registry/rules/dates.py",
            "from followup.rules import windows",
            "Rooms know only the rooms below them",
        ),
        (
            "followup/rules/windows.py",
            "from django.utils import timezone",
            "Rules and the analytics' pure folders know no framework and no rows",
        ),
        (
            "analytics/endpoints/reduction.py",
            "from registry.models.sites import Site",
            "Rules and the analytics' pure folders know no framework and no rows",
        ),
        (
            "registry/selectors/patients.py",
            "from registry.services import records",
            "Floors know only the floors below them, and there are no others",
        ),
        (
            "registry/helpers.py",
            "ANYTHING = 1",
            "Floors know only the floors below them, and there are no others",
        ),
        (
            "analytics/estimators/survival.py",
            "from analytics.endpoints import definition",
            "Estimators know nothing else of ours",
        ),
        (
            "followup/selectors/due.py",
            "from registry.models.identities import Identity",
            "Names of patients are read only where a person is shown, matched, written or reached",
        ),
        (
            "analytics/services/snapshots.py",
            "from followup.models import Reading",
            "Of the analytics only the frames, and the cases behind a number, read the rooms below",
        ),
    ],
)
def test_a_planted_breach_is_named(copied: Path, place: str, breach: str, contract: str) -> None:
    file = copied / place
    file.write_text((file.read_text() if file.exists() else "") + f"\n{breach}\n")
    assert any(line.startswith(contract) for line in broken(copied))


@pytest.mark.parametrize(
    ("place", "breach"),
    [
        ("registry/services/erasure.py", "from django.utils import timezone\ntimezone.now()"),
        ("followup/selectors/due.py", "from datetime import date\ndate.today()"),
        ("analytics/selectors/frames.py", "from registry.models import Identity"),
    ],
)
def test_the_clock_and_the_names_are_not_read_just_anywhere(
    copied: Path, place: str, breach: str
) -> None:
    with (copied / place).open("a") as file:
        file.write(f"\n{breach}\n")
    done = subprocess.run(
        [
            str(Path(sys.executable).with_name("ruff")),
            "check",
            "--select=TID251",
            "--no-cache",
            place,
        ],
        cwd=copied,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "is banned" in done.stdout
