"""Everything out, and back into an empty system: equal by hash, or nothing."""

import json
import os
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.core.management import call_command
from django.db import connection
from jsonschema import Draft202012Validator

from registry.errors import BadInput
from registry.models import AuditEntry, Patient, PatientSite, Person, Procedure, Site
from registry.models.identities import Identity
from registry.selectors import archive_scope
from registry.services import archives, audit, triggers
from tests import builders, world

pytestmark = pytest.mark.django_db(transaction=True)


def silent(what: str, done: int) -> None:
    """Nobody watches."""


@pytest.fixture(autouse=True)
def own_films(settings: Any, tmp_path: Path) -> None:
    """Pictures in a folder of the test's own, which can be emptied."""
    shelf = {"BACKEND": "django.core.files.storage.FileSystemStorage"}
    options = {"location": str(tmp_path / "films")}
    settings.STORAGES = {**settings.STORAGES, "films": {**shelf, "OPTIONS": options}}


@pytest.fixture
def served() -> Iterator[Person]:
    """Two sites with one of each thing; the clock stands, as the builders expect."""
    with time_machine.travel(builders.NOW):
        builders.load_defaults()
        for code in ("north", "south"):
            world.one_of_each(code)
        yield builders.person("ada", north="administrator")


def make(target: Path, by: Person, site: str = "") -> Any:
    where = Site.objects.get(code=site) if site else None
    return archives.make_archive(
        target=target, site=where, by=by, now=builders.NOW, progress=silent
    )


def empty(tmp_path: Path) -> None:
    """Leave migrated tables without a row, and no files."""
    triggers.remove_before_remake(connection)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            for name, table in triggers.trigger_tables(connection):
                cursor.execute(f"DROP TRIGGER {name} ON {table}")
    call_command("flush", interactive=False, verbosity=0)
    for left in (tmp_path / "films").rglob("*"):
        if left.is_file():
            left.unlink()


def bring(source: Path) -> Any:
    return archives.bring_back(source=source, now=builders.NOW, progress=silent)


def test_the_whole_service_goes_and_comes_back_equal(served: Person, tmp_path: Path) -> None:
    entries = AuditEntry.objects.count()
    first = make(tmp_path / "one.zip", served)
    before = {model: model._base_manager.count() for model in archive_scope.archived_models()}
    assert AuditEntry.objects.count() == entries + 1, "the trail says who took it"
    assert AuditEntry.objects.latest("id").reason.endswith(first.content_hash)
    assert any(one.path.startswith("files/films/") for one in first.members)

    empty(tmp_path)
    assert not Patient.objects.exists()
    assert bring(tmp_path / "one.zip").content_hash == first.content_hash
    after = {model: model._base_manager.count() for model in archive_scope.archived_models()}
    assert after == {**before, AuditEntry: before[AuditEntry] - 1}
    assert audit.verify().broken is None
    assert triggers.expected_names(connection) <= triggers.trigger_names(connection)

    again = Person.objects.get(username="ada")
    assert not again.has_usable_password()
    second = make(tmp_path / "two.zip", again)
    assert second.content_hash == first.content_hash

    newest = Patient.everything.latest("id").pk
    patient = builders.patient(builders.site("north"), again)
    assert patient.pk > newest, "new rows are numbered after those that came"
    assert AuditEntry.objects.filter(table="registry_patient", row_id=str(patient.pk)).exists()
    assert audit.verify().broken is None


def test_one_site_goes_without_the_other_and_comes_back_equal(
    served: Person, tmp_path: Path
) -> None:
    marks = world.marks_of(builders.site("south"))
    first = make(tmp_path / "north.zip", served, "north")
    with zipfile.ZipFile(tmp_path / "north.zip") as packed:
        inside = "".join(
            packed.read(name).decode() for name in packed.namelist() if "films" not in name
        )
    assert {mark for mark in marks if mark in inside} == set()
    assert world.WHO["north"]["family_name"] in inside

    theirs = Identity.objects.filter(patient__site__code="north").count()
    empty(tmp_path)
    assert bring(tmp_path / "north.zip").content_hash == first.content_hash
    assert Identity.objects.count() == theirs
    assert set(Site.objects.values_list("code", flat=True)) == {"north"}
    found = audit.verify()
    assert (found.broken, found.unsealed) == (None, 0)
    assert found.checked == AuditEntry.objects.count() > 100


@pytest.mark.either_engine
def test_what_is_inside_is_as_described(served: Person, tmp_path: Path) -> None:
    served.set_password("a long pass phrase of hers")
    served.save()
    make(tmp_path / "one.zip", served)
    seen = 0
    with zipfile.ZipFile(tmp_path / "one.zip") as packed:
        for path in packed.namelist():
            if not path.startswith("tables/"):
                continue
            schema = json.loads(packed.read(f"schema/{Path(path).stem}.json"))
            Draft202012Validator.check_schema(schema)
            check = Draft202012Validator(schema)
            for line in packed.read(path).splitlines():
                faults = [fault.message for fault in check.iter_errors(json.loads(line))]
                assert not faults, f"{path}: {faults}"
                seen += 1
        people = packed.read("tables/registry_person.ndjson").decode()
        trail = packed.read("tables/registry_auditentry.ndjson").decode()
    assert seen > 500
    assert "password" not in people.replace('"must_change_password"', "")
    assert served.password not in people + trail


@pytest.mark.either_engine
def test_a_patient_of_two_sites_goes_with_each(served: Person, tmp_path: Path) -> None:
    theirs = Patient.objects.filter(site__code="south").first()
    PatientSite.objects.create(patient=theirs, site=builders.site("north"))
    make(tmp_path / "north.zip", served, "north")
    with zipfile.ZipFile(tmp_path / "north.zip") as packed:
        identities = packed.read("tables/registry_identity.ndjson").decode()
        procedures = packed.read("tables/registry_procedure.ndjson").decode()
    assert f'"patient_id":{theirs.pk},' in identities
    south = Procedure.objects.filter(site__code="south").first()
    assert f'"id":{south.pk},' not in procedures


def changed(source: Path, target: Path, path: str, content: bytes | None) -> Path:
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            written = old.read(name) if name != path else content
            if written is not None:
                new.writestr(name, written)
    return target


@pytest.mark.either_engine
def test_what_was_changed_is_refused_and_nothing_is_kept(
    served: Person, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = tmp_path / "one.zip"
    first = make(made, served)
    picture = next(one.path for one in first.members if one.path.startswith("files/"))
    empty(tmp_path)
    wrong = {
        "tables/registry_patient.ndjson": (b'{"id":1}\n', "was changed since"),
        "schema/registry_site.json": (None, "is missing from the archive"),
        picture: (b"another picture", "was changed since"),
        "manifest.json": (b"{}", "no manifest"),
    }
    for path, (content, told) in wrong.items():
        with pytest.raises(BadInput, match=told):
            bring(changed(made, tmp_path / "wrong.zip", path, content))
    manifest = json.loads(zipfile.ZipFile(made).read("manifest.json"))
    manifest["members"][3]["sha256"] = "0" * 64
    with pytest.raises(BadInput, match="manifest was changed"):
        bring(changed(made, tmp_path / "w.zip", "manifest.json", json.dumps(manifest).encode()))
    (tmp_path / "text.zip").write_text("no archive")
    with pytest.raises(BadInput, match="cannot be opened"):
        bring(tmp_path / "text.zip")

    def breaks(*args: Any) -> None:
        raise RuntimeError("the machine is switched off")

    monkeypatch.setattr(archives, "_equal", breaks)
    with pytest.raises(RuntimeError):
        bring(made)
    assert not any(model._base_manager.exists() for model in archive_scope.archived_models())
    assert not any(left.is_file() for left in (tmp_path / "films").rglob("*"))
    assert triggers.expected_names(connection) <= triggers.trigger_names(connection)


@pytest.mark.either_engine
def test_a_system_that_is_not_empty_is_left_alone(served: Person, tmp_path: Path) -> None:
    make(tmp_path / "one.zip", served)
    with pytest.raises(BadInput, match="not empty"):
        bring(tmp_path / "one.zip")
    with pytest.raises(BadInput, match="there already"):
        make(tmp_path / "one.zip", served)


@pytest.mark.either_engine
def test_other_tables_are_named_with_what_to_do(
    served: Person, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(archives, "_migrations", lambda: {"registry": "0001_initial"})
    make(tmp_path / "old.zip", served)
    monkeypatch.setattr(archives, "_migrations", lambda: {"registry": "0006_header_identities"})
    with pytest.raises(BadInput, match="migrate registry 0001_initial"):
        bring(tmp_path / "old.zip")


@pytest.mark.either_engine
def test_a_missing_picture_is_named_and_no_half_archive_stays(
    served: Person, tmp_path: Path
) -> None:
    store = storages["films"]
    name = next(p for p in (tmp_path / "films").rglob("*") if p.is_file())
    content = name.read_bytes()
    name.unlink()
    with pytest.raises(BadInput, match="is not in the storage 'films'"):
        make(tmp_path / "one.zip", served)
    assert not list(tmp_path.glob("one.zip*"))
    store.save(str(name.relative_to(tmp_path / "films")), ContentFile(content))
    assert make(tmp_path / "one.zip", served).rows > 0
    assert (tmp_path / "one.zip").stat().st_mode & 0o077 == 0


SERVICE = """
import django, time_machine
django.setup()
from django.core.management import call_command
from tests import builders, world
call_command("migrate", verbosity=0)
with time_machine.travel(builders.NOW):
    builders.load_defaults()
    world.one_of_each("north")
    builders.person("ada", north="administrator")
    call_command("make_archive", {target!r}, "--by", "ada")
"""


@pytest.mark.needs_postgres
def test_a_service_moves_from_the_embedded_database_to_postgres(tmp_path: Path) -> None:
    target = tmp_path / "embedded.zip"
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "HOLDFAST_DATABASE": f"sqlite:///{tmp_path}/embedded.sqlite3",
        "HOLDFAST_DATA_DIR": str(tmp_path),
    }
    subprocess.run(
        [sys.executable, "-c", SERVICE.format(target=str(target))],
        env=environment,
        cwd=Path(__file__).resolve().parents[3],
        check=True,
        timeout=300,
    )
    empty(tmp_path)
    came = bring(target)
    assert audit.verify().broken is None
    again = make(tmp_path / "moved.zip", Person.objects.get(username="ada"))
    assert again.content_hash == came.content_hash
    assert again.rows > 200
