"""Answers from a file."""

from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from followup.models import Reply
from tests import builders
from tests.outbox import policy, reminder

pytestmark = pytest.mark.usefixtures("defaults")
HEAD = "key,from,text,received_at\n"


def take(path: Path, text: str, **given: Any) -> None:
    path.write_text(text, encoding="utf-8")
    call_command("take_replies", str(path), **{"site": "north", **given})


def test_a_file_is_taken_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    policy()
    reminder(phone="0555 010 200")
    lines = "a,0555 010 200,STOP,2026-11-01T09:00:00+00:00\nb,0555 999 999,Hello,\n"
    take(tmp_path / "in.csv", HEAD + lines)
    said = capsys.readouterr().out
    assert said == "2 answers read: 1 ended these messages, 1 waits for a person.\n"
    take(tmp_path / "in.csv", HEAD + lines)
    assert Reply.objects.count() == 2
    assert Reply.objects.get(key="a").received_at.isoformat() == "2026-11-01T09:00:00+00:00"


def test_a_row_that_cannot_be_taken_is_named_and_the_others_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    builders.site()
    with pytest.raises(CommandError, match="2 of 3 answers"):
        take(tmp_path / "in.csv", HEAD + "a,,STOP,\nb,0555 9 9 9,Hi,\nc,0555 999,Hi,Monday\n")
    said = capsys.readouterr().err
    assert "Row 2: " in said
    assert "Row 4: 'Monday' is no moment" in said
    assert Reply.objects.get().key == "b"


def test_a_file_without_its_columns_and_a_site_that_is_not_there_are_refused(
    tmp_path: Path,
) -> None:
    builders.site()
    with pytest.raises(CommandError, match="does not name the columns from, text"):
        take(tmp_path / "in.csv", "key\na\n")
    with pytest.raises(CommandError, match="no site 'west'"):
        take(tmp_path / "in.csv", HEAD, site="west")
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("take_replies", str(tmp_path / "none.csv"), site="north")
