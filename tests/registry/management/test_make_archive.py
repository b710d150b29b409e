"""The commands around an archive: what they ask for, and what they say."""

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from registry.models import AuditEntry
from tests import builders

# On PostgreSQL an archive wants a transaction of its own: tests/registry/services/test_archives.py.
pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]


def run(name: str, *given: str) -> str:
    said = StringIO()
    call_command(name, *given, stdout=said)
    return said.getvalue()


@pytest.fixture
def target(tmp_path: Path) -> str:
    builders.patient(by=builders.person("ada", north="administrator"))
    return str(tmp_path / "service.zip")


def test_an_archive_is_made_and_checked(target: str) -> None:
    said = run("make_archive", target, "--by", "ada")
    assert "SHA-256 of its content" in said
    assert "It holds names" in said
    assert AuditEntry.objects.latest("id").reason.startswith("archive of the whole service")
    assert "is whole" in run("bring_back", target, "--check")


def test_of_one_site(target: str) -> None:
    assert "rows" in run("make_archive", target, "--site", "north", "--by", "ada")
    assert AuditEntry.objects.latest("id").reason.startswith("archive of north")


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (("--by", "nobody"), "nobody with the user name 'nobody'"),
        (("--by", "ada", "--site", "west"), "there is no site 'west'; there are north"),
    ],
)
def test_a_wrong_name_is_said(target: str, given: tuple[str, ...], told: str) -> None:
    with pytest.raises(CommandError, match=told):
        run("make_archive", target, *given)
    assert not Path(target).exists()


def test_what_is_in_use_is_not_overwritten(target: str) -> None:
    run("make_archive", target, "--by", "ada")
    with pytest.raises(CommandError, match="there already"):
        run("make_archive", target, "--by", "ada")
    with pytest.raises(CommandError, match="not empty"):
        run("bring_back", target)
    with pytest.raises(CommandError, match="cannot be opened"):
        run("bring_back", f"{target}.none")
