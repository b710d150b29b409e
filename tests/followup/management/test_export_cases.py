"""The command that takes a site's cases out says who did it."""

from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

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
