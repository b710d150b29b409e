"""A copy comes back equal by hash, on either engine, from older code as well; or nothing of it."""

import io
import json
import os
import resource
import shutil
import sqlite3
import tarfile
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

import psycopg
import pyrage
import pytest

from config.copies import sealing, sqlite
from config.copies.manifest import CopyFault, Manifest
from config.copies.reading import _fits
from tests.config.copies.test_manifest import ONE
from tests.copied import Service

# A head of migrations before the newest, which a database can go back to.
OLDER = ("registry", "0019_token_scopes")
# What is settled at once in records that come back: runs, messages that were due, and who is to be asked at home.
GOES_ON = {
    *("registry_jobrun", "registry_joblock", "registry_auditentry", "registry_chainhead"),
    *("followup_message", "followup_messagestep", "followup_invitation", "django_migrations"),
}


# Somebody is signed in, and has a token for a program.
SIGNED_IN = """
import django
django.setup()
from django.test import Client
from django.utils import timezone
from registry.models import Person
from registry.services import tokens
selma = Person.objects.filter(memberships__isnull=False).first()
Client().force_login(selma)
tokens.make_token(person=selma, days=30, now=timezone.now())
"""


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a service, and a copy of it, for the tests of this module."""
    folder = tmp_path_factory.mktemp("kept")
    service = Service(folder / "data").seeded()
    copied(service, folder)
    return folder


def copied(service: Service, folder: Path) -> Path:
    """Keep a copy beside its key; return its file."""
    shelf = folder / "copies"
    shelf.mkdir(exist_ok=True)
    if not (folder / "key").exists():
        service.run("keep_copy", "--new-key", str(folder / "key"))
    public = (folder / "key").read_text().split("public key: ")[1].split()[0]
    given = ("--to", str(shelf), "--for", public, "--verify-with", str(folder / "key"))
    assert "is whole" in service.run("keep_copy", *given).stdout
    return max(shelf.glob("*.age"))


def contents(file: Path) -> dict[str, object]:
    moment = sqlite.Moment(file)
    try:
        return {name: moment.content(name) for name in moment.tables() if name not in GOES_ON}
    finally:
        moment.close()


def back(kept: Path, at: Service, *more: str, code: int = 0, **given: object) -> str:
    source = str(next((kept / "copies").glob("*.age")))
    done = at.run("put_back", source, "--key", str(kept / "key"), *more, code=code, **given)  # type: ignore[arg-type]
    return done.stdout + done.stderr


def test_every_table_and_file_comes_back_equal(kept: Path, tmp_path: Path) -> None:
    before, at = Service(kept / "data"), Service(tmp_path / "data")
    said = back(kept, at)
    assert "is back, equal by hash" in said
    assert "another HOLDFAST_SECRET_KEY" in said
    found = contents(tmp_path / "data" / "holdfast.sqlite3")
    assert len(found) > 100
    assert found == contents(kept / "data" / "holdfast.sqlite3")
    assert at.films() == before.films() != {}
    assert "All " in at.run("verify_records").stdout
    at.run("seal_trail")
    assert "The chain holds" in at.run("verify_trail").stdout
    # The run that made the copy was under way in it, and is over here.
    at.run("keep_copy", "--new-key", str(tmp_path / "another"))
    copied(at, tmp_path)


def test_what_was_due_does_not_go_by_itself_afterwards(kept: Path, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    shutil.copytree(kept / "data", folder / "data")
    shutil.copy(kept / "key", folder / "key")
    service = Service(folder / "data")
    with closing(sqlite3.connect(folder / "data" / "holdfast.sqlite3")) as link, link:
        link.create_function("holdfast_person", 0, lambda: None)
        link.create_function("holdfast_reason", 0, lambda: "a test")
        changed = link.execute("UPDATE followup_message SET state = 'waiting', means = ''").rowcount
    assert changed > 0
    service.run("-c", SIGNED_IN)
    copied(service, folder)
    at = Service(tmp_path / "data")
    said = back(folder, at)
    assert "messages were due since the copy was made" in said
    assert "1 tokens of programs were revoked" in said
    with closing(sqlite3.connect(tmp_path / "data" / "holdfast.sqlite3")) as link:
        states = link.execute("SELECT state, count(*) FROM followup_message GROUP BY 1").fetchall()
        signed = [
            link.execute(f"SELECT count(*) FROM {table}").fetchone()
            for table in ("django_session", "usersessions_usersession", "knox_authtoken")
        ]
    assert [state for state, _ in states] == ["unknown"]
    assert states[0][1] >= changed
    assert signed == [(0,)] * 3
    # What the nights since would have sent was parked with it: this night has nothing to add.
    at.run("invite_patients")
    at.run("plan_reminders")
    with closing(sqlite3.connect(tmp_path / "data" / "holdfast.sqlite3")) as link:
        waiting = link.execute("SELECT count(*) FROM followup_message WHERE state = 'waiting'")
        assert waiting.fetchone() == (0,)
    assert "All " in at.run("verify_records").stdout


def test_a_full_database_is_replaced_on_purpose_alone(kept: Path, tmp_path: Path) -> None:
    at = Service(tmp_path / "data")
    back(kept, at)
    with closing(sqlite3.connect(tmp_path / "data" / "holdfast.sqlite3")) as link, link:
        link.create_function("holdfast_person", 0, lambda: None)
        link.create_function("holdfast_reason", 0, lambda: "a test")
        link.execute("UPDATE registry_site SET name = 'Another'")
    films = at.films()
    name, content = next(iter(films.items()))
    (tmp_path / "data" / "films" / name).write_bytes(content[:-1])
    said = back(kept, at, code=1)
    assert "The database is not empty" in said
    assert "Nothing was changed" in said
    assert at.films()[name] == content[:-1]
    assert "is back, equal by hash" in back(kept, at, "--replace")
    assert contents(tmp_path / "data" / "holdfast.sqlite3") == contents(
        kept / "data" / "holdfast.sqlite3"
    )
    assert at.films() == films
    left = sorted(file.name for file in (tmp_path / "data").iterdir())
    assert not [name for name in left if "before" in name or "coming" in name or "copy-" in name]


def test_a_database_in_use_is_not_replaced(kept: Path, tmp_path: Path) -> None:
    at = Service(tmp_path / "data")
    back(kept, at)
    with closing(sqlite3.connect(tmp_path / "data" / "holdfast.sqlite3")) as link:
        link.execute("SELECT count(*) FROM registry_site").fetchall()
        said = back(kept, at, "--replace", code=1)
    assert "Another process has holdfast.sqlite3 open" in said
    assert "All " in at.run("verify_records").stdout


def harmed(kept: Path, folder: Path, harm: Callable[[bytes], bytes]) -> Path:
    """Return a folder with a copy that something happened to, and its key."""
    (folder / "copies").mkdir(parents=True)
    source = next((kept / "copies").glob("*.age"))
    (folder / "copies" / source.name).write_bytes(harm(source.read_bytes()))
    shutil.copy(kept / "key", folder / "key")
    return folder


def without(kept: Path, member: str) -> Callable[[bytes], bytes]:
    """Return what leaves a member out of a copy and seals it again, as no damage would."""
    (key,) = sealing.identities(kept / "key")

    def leave_out(sealed: bytes) -> bytes:
        plain, fewer = io.BytesIO(pyrage.decrypt(sealed, [key])), io.BytesIO()
        with tarfile.open(fileobj=plain) as packed, tarfile.open(fileobj=fewer, mode="w") as target:
            for told in packed:
                if not told.name.startswith(member):
                    target.addfile(told, packed.extractfile(told))
        return bytes(pyrage.encrypt(fewer.getvalue(), [key.to_public()]))

    return leave_out


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ("cut", "is damaged or cut short"),
        ("flipped", "is damaged or cut short"),
        ("another key", "was not encrypted for this key"),
        ("files/films/", "is missing from the copy"),
        ("database", "The database in the copy is not the one that was copied"),
        ("manifest", "no manifest that can be read"),
    ],
)
def test_nothing_is_written_of_what_is_not_whole(
    kept: Path, tmp_path: Path, what: str, said: str
) -> None:
    harms: dict[str, Callable[[bytes], bytes]] = {
        "cut": lambda content: content[: len(content) // 2],
        "flipped": lambda content: (
            content[:99_999] + bytes([content[99_999] ^ 4]) + content[100_000:]
        ),
        "another key": lambda content: content,
    }
    source = harmed(kept, tmp_path / "kept", harms.get(what) or without(kept, what))
    if what == "another key":
        (source / "key").unlink()
        sealing.new_key(source / "key")
    at = Service(tmp_path / "data")
    told = back(source, at, code=1)
    assert said in told
    assert "Traceback" not in told
    assert at.films() == {}
    assert not (tmp_path / "data" / "holdfast.sqlite3").exists()
    assert said in back(source, at, "--check", code=1)


def test_a_full_disk_leaves_all_as_it_was(kept: Path, tmp_path: Path) -> None:
    def little() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))

    at = Service(tmp_path / "data")
    told = back(kept, at, code=1, limit=little)
    assert "It could not be put back: File too large. All is as it was." in told
    assert at.films() == {}
    assert not (tmp_path / "data" / "holdfast.sqlite3").exists()


def test_a_copy_of_older_code_is_brought_up_to_this(kept: Path, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    shutil.copytree(kept / "data", folder / "data")
    shutil.copy(kept / "key", folder / "key")
    old = Service(folder / "data")
    old.run("migrate", *OLDER, "-v0")
    copied(old, folder)
    at = Service(tmp_path / "data")
    assert "is back, equal by hash" in back(folder, at)
    assert "[ ]" not in at.run("showmigrations", "followup", "registry", "analytics").stdout
    assert at.films() == old.films()
    with closing(sqlite3.connect(tmp_path / "data" / "holdfast.sqlite3")) as link:
        link.execute("SELECT told_by FROM registry_consent").fetchall()
        count = link.execute("SELECT count(*) FROM followup_review").fetchone()
    with closing(sqlite3.connect(folder / "data" / "holdfast.sqlite3")) as link:
        assert link.execute("SELECT count(*) FROM followup_review").fetchone() == count != (0,)
    at.run("seal_trail")
    assert "The chain holds" in at.run("verify_trail").stdout


def test_a_copy_of_newer_code_is_refused_in_words(settings: Any) -> None:
    # The tables of most tests are made without migrations, which are asked for here.
    settings.MIGRATION_MODULES = {}
    newer = {**vars(ONE), "migrations": {"registry": "9999_what_is_to_come"}, "engine": "sqlite"}
    with pytest.raises(CopyFault, match=r"by newer code \(0.1.0\).*registry 9999_what_is_to_come"):
        _fits(Manifest(**newer))
    with pytest.raises(CopyFault, match=r"by newer code \(99.0\)"):
        _fits(Manifest(**{**vars(ONE), "code_version": "99.0"}))
    with pytest.raises(CopyFault, match="a copy of a oracle database"):
        _fits(Manifest(**{**vars(ONE), "engine": "oracle"}))
    _fits(ONE)


@pytest.fixture
def databases() -> Iterator[list[str]]:
    """Make two databases for a moment beside the one that is tested on."""
    address = urlsplit(os.environ["HOLDFAST_DATABASE"])
    names = [f"copied_{uuid4().hex[:8]}" for _ in range(2)]
    with psycopg.connect(address.geturl(), autocommit=True) as control:
        for name in names:
            control.execute(f"CREATE DATABASE {name}")
        try:
            yield [address._replace(path=f"/{name}").geturl() for name in names]
        finally:
            for name in names:
                control.execute(f"DROP DATABASE {name} WITH (FORCE)")


def rows_of(database: str) -> dict[str, list[tuple[object, ...]]]:
    with psycopg.connect(database) as link:
        query = "SELECT table_name FROM information_schema.tables WHERE table_schema = 'public'"
        names = {name for (name,) in link.execute(query).fetchall()} - GOES_ON
        return {
            name: link.execute(f'SELECT * FROM "{name}" ORDER BY 1').fetchall()  # type: ignore[arg-type]
            for name in sorted(names)
        }


@pytest.mark.needs_postgres
def test_postgresql_comes_back_equal_and_older_and_not_by_halves(
    tmp_path: Path, databases: list[str]
) -> None:
    before = Service(tmp_path / "data", databases[0]).seeded()
    copied(before, tmp_path)
    at = Service(tmp_path / "other", databases[1])
    assert "is back, equal by hash" in back(tmp_path, at)
    assert len(rows_of(databases[1])) > 100
    assert rows_of(databases[1]) == rows_of(databases[0])
    assert at.films() == before.films() != {}
    assert "All " in at.run("verify_records").stdout

    # A fault in the middle leaves what was there.
    with psycopg.connect(databases[1], autocommit=True) as link:
        link.execute("UPDATE registry_site SET name = 'As it was'")
        said = back(tmp_path, at, "--replace", code=1)
        assert "1 other connections to the database are open" in said
    harm = without(tmp_path, "database")
    bad = harmed(tmp_path, tmp_path / "bad", harm)
    back(bad, at, "--replace", code=1)
    with psycopg.connect(databases[1]) as link:
        assert link.execute("SELECT name FROM registry_site").fetchone() == ("As it was",)

    # What an earlier migration head had comes back and is migrated.
    before.run("migrate", *OLDER, "-v0")
    next((tmp_path / "copies").glob("*.age")).unlink()
    copied(before, tmp_path)
    assert "is back, equal by hash" in back(tmp_path, at, "--replace")
    assert "[ ]" not in at.run("showmigrations", "registry").stdout
    assert broken(at) == WENT_WITH_TABLES
    # New rows are numbered after those that came, and the database writes its trail.
    at.run("-c", AFTERWARDS)
    assert broken(at) == WENT_WITH_TABLES


# Going back drops tables, and what stood in them: the trail still knows of it.
WENT_WITH_TABLES = {"trail_lost"}


def broken(at: Service) -> set[str]:
    told = json.loads(at.run("verify_records", "--json", code=1).stdout)
    return {rule["name"] for rule in told["rules"] if not rule["holds"]}


AFTERWARDS = """
import django
django.setup()
from tests import builders
patient = builders.patient(builders.site("south"), builders.person("recorder", south="coordinator"))
from registry.models import AuditEntry
assert AuditEntry.objects.filter(table="registry_patient", row_id=str(patient.pk)).exists()
"""
