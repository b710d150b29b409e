"""What was written down outside the database: an end that was taken away is missed."""

from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from registry.errors import BadInput
from registry.models import AuditEntry, ChainHead
from registry.rules import chain
from registry.services import anchors, audit
from registry.tasks.audit import anchor
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def path(settings: Any, tmp_path: Path) -> Path:
    settings.TRAIL_ANCHORS = str(tmp_path / "elsewhere" / "anchors.txt")
    return Path(settings.TRAIL_ANCHORS)


def keeper_off_duty() -> None:
    on = " ON registry_auditentry" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        for kind in ("update", "delete"):
            cursor.execute(f"DROP TRIGGER trail_keep_{kind}{on}")


def head_put_back() -> None:
    """Let the place of the last seal be that of the last entry that is left."""
    last = audit.sealed_entries().last()
    position, sealed = (last.position, last.hash) if last else (0, chain.START)
    ChainHead.objects.update(position=position, hash=sealed)


def test_a_line_is_written_for_each_night_on_which_the_trail_went_on(path: Path) -> None:
    builders.patient()
    assert anchors.drop_anchor(now=NOW)
    assert not anchors.drop_anchor(now=NOW)
    anchor()
    builders.site("west")
    assert anchors.drop_anchor(now=NOW)
    kept = anchors.anchors_in(path)
    assert [one.position for one in kept] == sorted({one.position for one in kept})
    head = ChainHead.objects.get()
    assert kept[-1] == anchors.Anchor("2026-11-25T09:00:00Z", head.position, head.hash)
    assert anchors.first_lost(kept) is None


def test_without_a_trail_nothing_is_written(path: Path) -> None:
    assert not anchors.drop_anchor(now=NOW)
    assert not path.exists()


@pytest.mark.parametrize("kept", [0, 1, 3])
def test_an_end_taken_away_with_the_place_of_its_seal_is_missed(path: Path, kept: int) -> None:
    builders.procedure()
    anchors.drop_anchor(now=NOW)
    last = ChainHead.objects.get().position
    keeper_off_duty()
    AuditEntry.objects.filter(position__gt=kept).delete()
    head_put_back()
    # Inside, nothing contradicts.
    assert audit.verify().broken is None
    lost = anchors.first_lost(anchors.anchors_in(path))
    assert lost is not None
    assert lost.position == last
    with pytest.raises(CommandError, match=f"position {last}: what was there on 2026-11-25"):
        call_command("verify_trail")


def test_a_trail_forged_and_sealed_anew_as_a_whole_is_found(path: Path) -> None:
    builders.procedure()
    anchors.drop_anchor(now=NOW)
    keeper_off_duty()
    AuditEntry.objects.filter(position=2).update(reason="forged")
    AuditEntry.objects.update(position=None, hash="", previous_hash="")
    ChainHead.objects.all().delete()
    audit.seal_all()
    assert audit.verify().broken is None
    assert anchors.first_lost(anchors.anchors_in(path)) is not None


def test_the_command_says_what_it_held_the_chain_against(
    path: Path, tmp_path: Path, capsys: Any
) -> None:
    builders.patient()
    call_command("seal_trail")
    call_command("verify_trail")
    assert "Nothing was written down outside the database" in capsys.readouterr().out
    call_command("anchor_trail")
    call_command("verify_trail")
    assert f"1 lines of {path} agree with it" in capsys.readouterr().out
    copy = tmp_path / "copy.txt"
    copy.write_text(path.read_text() + f"2026-11-26T03:50:00Z 9999 {'0' * 64}\n")
    with pytest.raises(CommandError, match="position 9999"):
        call_command("verify_trail", anchors=copy)
    with pytest.raises(CommandError, match="There is no file"):
        call_command("verify_trail", anchors=tmp_path / "none.txt")


def test_what_is_no_such_file_is_said_with_its_line(path: Path) -> None:
    path.parent.mkdir()
    path.write_text("2026-11-26T03:50:00Z 1 abc\nnothing\n")
    with pytest.raises(BadInput, match="line 2"):
        anchors.anchors_in(path)
    with pytest.raises(CommandError, match="line 2"):
        call_command("verify_trail")
