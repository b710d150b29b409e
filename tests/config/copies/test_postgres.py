"""The tools of PostgreSQL are those of the server's version, or it is said which are wanted."""

from pathlib import Path
from typing import Any

import pytest

from config.copies import postgres
from config.copies.manifest import CopyFault


def fake(folder: Path, version: str) -> Path:
    path = folder / "pg_dump"
    path.write_text(f"#!/bin/sh\necho 'pg_dump (PostgreSQL) {version}'\n")
    path.chmod(0o755)
    return path


def test_a_tool_of_the_servers_version_is_taken(settings: Any, tmp_path: Path) -> None:
    settings.PG_TOOLS = str(tmp_path)
    path = fake(tmp_path, "18.6 (Debian 18.6-1)")
    assert postgres.tool("pg_dump", 18) == path


def test_a_tool_of_another_version_is_refused_with_what_to_do(
    settings: Any, tmp_path: Path
) -> None:
    settings.PG_TOOLS = str(tmp_path)
    fake(tmp_path, "15.3")
    with pytest.raises(CopyFault, match=r"of the server's version, 18 \(.*is of version 15\)"):
        postgres.tool("pg_dump", 18)
    with pytest.raises(CopyFault, match=r"no pg_restore .*is of version unknown"):
        postgres.tool("pg_restore", 18)


def test_the_wheel_of_the_tests_has_the_tools(settings: Any, monkeypatch: Any) -> None:
    settings.PG_TOOLS = ""
    monkeypatch.setenv("PATH", "")
    found = postgres.tool("pg_dump", 18)
    assert found.parent == postgres.tool("pg_restore", 18).parent
