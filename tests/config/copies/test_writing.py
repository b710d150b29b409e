"""A copy is there whole or not at all, and says what is in it."""

import errno
import json
import os
import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import transaction

from config.copies import sealing, shelf, sqlite, writing
from config.copies.manifest import CopyFault
from config.tasks.copies import keep
from followup.exchange import film_store
from followup.models import FilmImage
from followup.services import films
from registry.models import JobRun
from tests import builders, world
from tests.builders import NOW, TODAY

# A copy sees what is committed.
pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.either_engine]
NAME = "Quillfeather"


@pytest.fixture
def public(tmp_path: Path) -> str:
    return sealing.new_key(tmp_path / "key")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "copies").mkdir()
    return tmp_path / "copies"


def pictured() -> FilmImage:
    """Record a patient whose film has a picture."""
    builders.load_defaults()
    operation = builders.procedure(builders.injury(builders.patient(family_name=NAME)))
    by = operation.recorded_by
    film = films.record_film(
        injury=operation.injury,
        values={"taken_on": TODAY, "view": "zanca"},
        by=by,
        now=NOW,
        today=TODAY,
    )
    image: FilmImage = world.kept_image(FilmImage(film=film, site=film.site), world.GREYS, by)
    return image


def kept(folder: Path, public: str, now: Any = NOW, keep: int = 0) -> shelf.Kept:
    return writing.keep_copy(folder=folder, recipients=[public], now=now, keep=keep)


def test_what_is_told_beside_a_copy_counts_and_hashes_and_names_nobody(
    folder: Path, public: str
) -> None:
    pictured()
    made = kept(folder, public)
    told = (folder / "holdfast-20261125T090000Z.json").read_text()
    found = json.loads(told)
    assert found["tables"]["registry_patient"]["size"] == 1
    assert found["ciphertext"]["size"] == made.file.stat().st_size
    assert found["code_version"] == "0.1.0"
    assert "secret" not in found
    assert NAME not in told
    assert made.file.stat().st_mode & 0o777 == 0o600
    assert NAME.encode() not in made.file.read_bytes()
    assert sorted(file.name for file in folder.iterdir()) == [
        "holdfast-20261125T090000Z.age",
        "holdfast-20261125T090000Z.json",
    ]


def test_old_copies_go_and_others_files_stay(folder: Path, public: str) -> None:
    (folder / "notes.txt").write_text("ours")
    for hours in range(4):
        kept(folder, public, NOW + timedelta(hours=hours), keep=2)
    assert sorted(file.name for file in folder.iterdir()) == [
        "holdfast-20261125T110000Z.age",
        "holdfast-20261125T110000Z.json",
        "holdfast-20261125T120000Z.age",
        "holdfast-20261125T120000Z.json",
        "notes.txt",
    ]
    with pytest.raises(CopyFault, match="is there already"):
        kept(folder, public, NOW + timedelta(hours=3))


@pytest.mark.parametrize("after", [0, 1])
def test_a_full_disk_leaves_nothing_and_says_so(
    folder: Path, public: str, monkeypatch: pytest.MonkeyPatch, after: int
) -> None:
    left = [after]
    write = sealing.Hashing.write

    def full(self: sealing.Hashing, block: bytes) -> int:
        if str(self._target.name).endswith(".begun"):
            left[0] -= 1
            if left[0] < 0:
                self.fault = OSError(errno.ENOSPC, "No space left on device")
                raise self.fault
        return write(self, block)

    monkeypatch.setattr(sealing.Hashing, "write", full)
    with pytest.raises(CopyFault, match=r"No space left on device\. Nothing was kept"):
        kept(folder, public)
    assert list(folder.iterdir()) == []


def test_what_is_read_back_differently_is_no_copy(
    folder: Path, public: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sealing.Hashing, "sha256", property(lambda self: "0" * 64))
    with pytest.raises(CopyFault, match="What was read back is not what was written"):
        kept(folder, public)
    assert list(folder.iterdir()) == []


def test_a_film_that_is_missing_is_named_and_the_rest_is_copied(folder: Path, public: str) -> None:
    name = pictured().stored_name
    film_store.drop(name)
    assert kept(folder, public).manifest.missing == (f"files/films/{name}",)
    given = {"to": folder, "recipients": [public]}
    with pytest.raises(CommandError, match="1 files that rows name are not") as fault:
        call_command("keep_copy", **given)
    assert fault.value.returncode == 2


def test_a_film_that_is_replaced_meanwhile_is_copied_from_a_later_moment(
    folder: Path, public: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    image = pictured()
    listed = writing._add_stored
    turns = []

    def replaced(*given: Any) -> Any:
        if not turns:
            with film_store.open_file(image.stored_name) as source:
                fresh = film_store.put(source)  # type: ignore[arg-type]
            FilmImage.objects.filter(pk=image.pk).update(stored_name=fresh)
            film_store.drop(image.stored_name)
        turns.append(1)
        return listed(*given)

    monkeypatch.setattr(writing, "_add_stored", replaced)
    assert kept(folder, public).manifest.missing == ()
    assert len(turns) == 2


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"recipients": ["age1nonsense"]}, "'age1nonsense' is no public key"),
        ({"recipients": []}, "Nobody is named for whom"),
    ],
)
def test_wrong_settings_are_told_in_words(folder: Path, given: dict[str, Any], said: str) -> None:
    with pytest.raises(CopyFault, match=said):
        writing.keep_copy(folder=folder, now=NOW, **given)


def test_the_command_asks_for_a_place_that_is_there(folder: Path, public: str) -> None:
    with pytest.raises(CommandError, match="Say where: --to FOLDER"):
        call_command("keep_copy", recipients=[public])
    with pytest.raises(CommandError, match=r"is not there\. Nothing was copied"):
        call_command("keep_copy", to=folder / "no", recipients=[public])
    with pytest.raises(CommandError, match="a whole number from 1"):
        call_command("keep_copy", "--keep", "0")


def test_the_night_keeps_a_copy_where_it_is_set_up(
    folder: Path, public: str, settings: Any
) -> None:
    assert keep()["outcome"] == "good"
    assert shelf.newest() is None
    settings.COPIES_DIR, settings.COPIES_FOR, settings.COPIES_KEPT = str(folder), [public], 3
    assert keep()["outcome"] == "good"
    assert shelf.newest() is not None
    assert JobRun.objects.filter(job="keep_copy").latest("pk").counts["files"] >= 0
    settings.COPIES_DIR = str(folder / "gone")
    assert "is not there. Nothing was copied" in keep()["said"]


def test_a_copy_that_was_killed_long_ago_is_cleared_away(folder: Path, public: str) -> None:
    for name, age in (("holdfast-1.age.begun", 90_000), ("holdfast-2.age.begun", 10)):
        (folder / name).write_bytes(b"half")
        since = (folder / name).stat().st_mtime - age
        os.utime(folder / name, (since, since))
    kept(folder, public)
    assert not (folder / "holdfast-1.age.begun").exists()
    assert (folder / "holdfast-2.age.begun").exists()


def test_a_database_that_stays_locked_is_not_waited_for_on_and_on(
    folder: Path, public: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sqlite, "LOCKED_SECONDS", 0.0)
    with transaction.atomic():
        builders.site("north")
        with pytest.raises(CopyFault, match="has been locked for a minute"):
            kept(folder, public)
    assert list(folder.iterdir()) == []


def test_a_damaged_database_is_not_copied(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "one")) as link, link:
        link.execute("CREATE TABLE t (a TEXT)")
        link.executemany("INSERT INTO t VALUES (?)", [("x" * 500,)] * 100)
    content = bytearray((tmp_path / "one").read_bytes())
    content[4096 + 8 : 4096 + 200] = b"\x00" * 192
    (tmp_path / "one").write_bytes(content)
    moment = sqlite.Moment(tmp_path / "one")
    with pytest.raises((CopyFault, sqlite3.DatabaseError)):
        moment.write(tmp_path / "dump")
    moment.close()
