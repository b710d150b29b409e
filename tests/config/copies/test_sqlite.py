"""The embedded database is copied as it is at one moment, and put back as a whole."""

import gzip
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from config.copies import sqlite
from config.copies.manifest import CopyFault


def database(path: Path, *names: str) -> Path:
    with closing(sqlite3.connect(path)) as link, link:
        link.execute("CREATE TABLE t (id INTEGER PRIMARY KEY, a TEXT, b BLOB, c REAL)")
        link.executemany("INSERT INTO t (a, b, c) VALUES (?, ?, 1.5)", [(n, b"x") for n in names])
    return path


def content(path: Path) -> Any:
    moment = sqlite.Moment(path)
    try:
        return moment.content("t")
    finally:
        moment.close()


def test_equal_rows_have_an_equal_hash_and_others_another(tmp_path: Path) -> None:
    one, same = database(tmp_path / "1", "a", "b"), database(tmp_path / "2", "a", "b")
    assert content(one) == content(same)
    assert content(one).size == 2
    assert content(database(tmp_path / "3", "ab", "")).sha256 != content(one).sha256
    with closing(sqlite3.connect(same)) as link, link:
        link.execute("UPDATE t SET a = NULL WHERE id = 1")
    assert content(same) != content(one)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setitem(connection.settings_dict, "NAME", str(tmp_path / "here"))
    monkeypatch.setattr(sqlite.connections, "close_all", lambda: None)
    return database(tmp_path / "here", "as it was")


def packed(path: Path) -> Path:
    target = path.with_suffix(".gz")
    target.write_bytes(gzip.compress(path.read_bytes()))
    return target


def test_what_comes_takes_the_place_when_it_is_checked(here: Path, tmp_path: Path) -> None:
    source = packed(database(tmp_path / "new", "one", "two"))
    seen: list[int] = []
    sqlite.put_in_place(
        source, check=lambda one: seen.append(one.content("t").size), then=lambda: None
    )
    assert seen == [2]
    assert content(here).size == 2
    assert sorted(file.name for file in tmp_path.iterdir()) == ["here", "new", "new.gz"]


@pytest.mark.parametrize("when", ["check", "then"])
def test_a_fault_leaves_what_was_there(here: Path, tmp_path: Path, when: str) -> None:
    source = packed(database(tmp_path / "new", "one", "two"))
    before = content(here)

    def fault(*_: object) -> None:
        raise CopyFault("it is not equal")

    acts: dict[str, Any] = {"check": lambda _: None, "then": lambda: None, when: fault}
    with pytest.raises(CopyFault, match="it is not equal"):
        sqlite.put_in_place(source, **acts)
    assert content(here) == before
    assert sorted(file.name for file in tmp_path.iterdir()) == ["here", "new", "new.gz"]


def test_what_a_killed_attempt_left_is_not_walked_over(here: Path, tmp_path: Path) -> None:
    (tmp_path / "here.before").write_bytes(b"the records")
    source = packed(database(tmp_path / "new", "one"))
    with pytest.raises(CopyFault, match="an earlier attempt ended in its middle"):
        sqlite.put_in_place(source, check=lambda _: None, then=lambda: None)
    assert (tmp_path / "here.before").read_bytes() == b"the records"
