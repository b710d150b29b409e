"""The command that takes a site's cases out says who did it."""

import os
import stat
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from followup.services import case_export
from registry.models import AuditEntry
from tests.followup.case_files import case
from tests.followup.sent_files import connie, landed, sent_ours

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture
def target(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    landed(sent_ours(case(1)))
    return tmp_path / "out.csv"


def run(target: Path, by: str) -> str:
    said = StringIO()
    call_command("export_cases", str(target), "--site", "north", "--by", by, stdout=said)
    return said.getvalue()


def test_cases_are_written_and_the_trail_says_who_took_them(target: Path) -> None:
    assert "1 cases written" in run(target, "connie")
    assert "Andersb" in target.read_text(encoding="utf-8")
    noted = AuditEntry.objects.latest("id")
    assert (noted.action, noted.person_id) == ("read", connie().pk)
    assert noted.reason == "cases of north as a file, with names"


def test_without_a_person_who_may_sign_in_nothing_is_written(target: Path) -> None:
    with pytest.raises(CommandError, match="nobody with the user name 'nobody'"):
        run(target, "nobody")
    assert not target.exists()


def test_nobody_else_reads_the_file_and_the_trail_knows_before_a_name_is_in_it(
    target: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def killed(*given: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(case_export, "write", killed)
    umask = os.umask(0o022)
    try:
        with pytest.raises(KeyboardInterrupt):
            run(target, "connie")
    finally:
        os.umask(umask)
    assert stat.S_IMODE(target.stat().st_mode) == 0o600
    assert target.read_bytes() == b""
    assert AuditEntry.objects.latest("id").reason == "cases of north as a file, with names"


def test_a_file_that_is_there_is_neither_written_over_nor_said_to_be_taken(target: Path) -> None:
    target.write_text("mine", encoding="utf-8")
    entries = AuditEntry.objects.count()
    with pytest.raises(CommandError, match="is there already"):
        run(target, "connie")
    assert target.read_text(encoding="utf-8") == "mine"
    assert AuditEntry.objects.count() == entries
