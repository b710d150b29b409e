"""A service in a folder of its own, seeded with one of each thing, driven by its commands."""

import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SEED = """
import django
django.setup()
import time_machine
from tests import builders, world
with time_machine.travel(builders.NOW):
    builders.load_defaults()
    world.one_of_each("north")
"""


@dataclass(frozen=True)
class Service:
    """One service: its folder, its database where that lies elsewhere, and further settings."""

    data: Path
    database: str = ""
    more: dict[str, str] = field(default_factory=dict)

    def run(
        self, *words: str, code: int = 0, limit: Callable[[], None] | None = None
    ) -> "subprocess.CompletedProcess[str]":
        """Run a command of the service, which has to end with this code."""
        done = subprocess.run(
            [sys.executable, *(words if words[0] == "-c" else ("manage.py", *words))],
            cwd=ROOT,
            env=self.settings(),
            capture_output=True,
            text=True,
            timeout=600,
            check=False,
            preexec_fn=limit,
        )
        assert done.returncode == code, f"{words} ended with {done.returncode}:\n{done.stderr}"
        return done

    def settings(self) -> dict[str, str]:
        """Return the environment of its processes: nothing of ours but what they are to find."""
        kept = {name: text for name, text in os.environ.items() if not name.startswith("HOLDFAST_")}
        found = {"HOLDFAST_DATA_DIR": str(self.data), "DJANGO_SETTINGS_MODULE": "config.settings"}
        tools = {"HOLDFAST_PG_TOOLS": os.environ.get("HOLDFAST_PG_TOOLS", "")}
        return {**kept, **found, **tools, "HOLDFAST_DATABASE": self.database, **self.more}

    def seeded(self) -> "Service":
        """Migrate it and record one of each thing."""
        self.run("migrate", "-v0")
        self.run("-c", SEED)
        return self

    def films(self) -> dict[str, bytes]:
        """Return every file of a film by its name."""
        folder = self.data / "films"
        return {
            str(file.relative_to(folder)): file.read_bytes()
            for file in folder.rglob("*")
            if file.is_file()
        }
