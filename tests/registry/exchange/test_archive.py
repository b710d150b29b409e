"""The archive as a file: what it says of itself, and what of it is not believed."""

import json
import zipfile
from pathlib import Path

import pytest

from registry.errors import BadInput
from registry.exchange import archive
from registry.exchange.archive import Manifest, Member
from registry.selectors import archive_scope
from tests import builders


def silent(what: str, done: int) -> None:
    """Nobody watches."""


def manifest(*members: Member) -> Manifest:
    return Manifest("2026-03-02T09:00:00+00:00", "0", "", {}, list(members))


def packed(path: Path, told: object, **inside: bytes) -> Path:
    with zipfile.ZipFile(path, "w") as target:
        for name, content in inside.items():
            target.writestr(name, content)
        target.writestr("manifest.json", json.dumps(told))
    return path


def test_the_content_hash_is_of_what_is_inside_in_any_order() -> None:
    one, two = Member("a", "1" * 64, 3), Member("b", "2" * 64)
    assert manifest(one, two).content_hash == manifest(two, one).content_hash
    assert manifest(one).content_hash != manifest(two).content_hash
    assert manifest(one, two).rows == 3


@pytest.mark.parametrize("name", ["../../etc/cron", "/etc/cron", "a/../b", "a//b", "", ".hidden"])
def test_a_name_that_leads_elsewhere_is_refused(tmp_path: Path, name: str) -> None:
    told = manifest(Member(f"files/films/{name}", "0" * 64)).as_json()
    with archive.opened(packed(tmp_path / "a.zip", told)) as opened, pytest.raises(BadInput):
        list(opened.stored_files())


def test_what_is_not_in_the_manifest_is_refused(tmp_path: Path) -> None:
    path = packed(tmp_path / "a.zip", manifest().as_json(), extra=b"more")
    with archive.opened(path) as opened, pytest.raises(BadInput, match="not in its manifest"):
        opened.check(silent)


@pytest.mark.parametrize(
    "told", [{}, [], {"kind": "another"}, {"kind": archive.KIND, "version": 2}]
)
def test_another_kind_of_file_is_refused(tmp_path: Path, told: object) -> None:
    with pytest.raises(BadInput), archive.opened(packed(tmp_path / "a.zip", told)):
        pass


@pytest.mark.django_db
def test_the_hash_without_writing_is_that_of_the_file(tmp_path: Path) -> None:
    builders.patient()
    made = archive.write(tmp_path / "a.zip", manifest(), archive_scope.whole(), silent)
    counted = archive.content_hash_of(archive_scope.whole(), manifest(), silent)
    assert made.content_hash == counted
    with archive.opened(tmp_path / "a.zip") as opened:
        opened.check(silent)
        assert opened.manifest.content_hash == counted
