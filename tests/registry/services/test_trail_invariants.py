"""What was changed past the trail is found, at the very row."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from registry.models import AuditEntry, Injury
from registry.services import anchors, audit
from registry.services.trail_invariants import _columns_unlike
from tests.damage import LOOKED_AT, around_triggers, broken, sql

pytestmark = pytest.mark.django_db


def test_a_whole_record_breaks_no_rule(damaging: dict[str, Any]) -> None:
    assert broken() == {}


def test_a_changed_entry_breaks_the_chain_alone(damaging: dict[str, Any]) -> None:
    entry = audit.sealed_entries()[20]
    query = "UPDATE registry_auditentry SET reason = 'another' WHERE id = %s"
    assert around_triggers(query, entry.pk) == 1
    found = broken()
    assert list(found) == ["trail_chain"]
    assert f"position {entry.position}: its content was changed" in found["trail_chain"][0]


def test_a_trail_that_is_not_what_was_written_down_outside_is_found(
    damaging: dict[str, Any], settings: Any, tmp_path: Path
) -> None:
    settings.TRAIL_ANCHORS = str(tmp_path / "anchors.txt")
    anchors.drop_anchor(now=LOOKED_AT)
    assert broken() == {}
    (tmp_path / "anchors.txt").write_text(f"2026-11-25T09:00:00Z 20 {'0' * 64}\n")
    found = broken()
    assert list(found) == ["trail_anchors"]
    assert "position 20: what was there on 2026-11-25" in found["trail_anchors"][0]
    (tmp_path / "anchors.txt").write_text("nonsense\n")
    assert list(broken()) == ["trail_anchors"]


def test_an_entry_that_is_never_sealed_is_found(damaging: dict[str, Any]) -> None:
    AuditEntry.objects.create(
        at=LOOKED_AT - timedelta(hours=1, minutes=1), action="read", table="x", row_id="1"
    )
    AuditEntry.objects.create(at=LOOKED_AT, action="read", table="x", row_id="2")
    assert {name: len(rows) for name, rows in broken().items()} == {"trail_sealed": 1}


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE registry_auditentry SET reason = 'x', after = before WHERE id = %s",
        "DELETE FROM registry_auditentry WHERE id = %s",
    ],
)
def test_a_change_that_is_not_sealed_yet_cannot_be_hidden_either(
    damaging: dict[str, Any], damage: str
) -> None:
    row = damaging["injury_id"]
    assert sql("UPDATE registry_injury SET version = version + 1 WHERE id = %s", row) == 1
    entry = AuditEntry.objects.latest("id")
    assert (entry.table, entry.position) == ("registry_injury", None)
    assert around_triggers(damage, entry.pk) == 1
    assert "trail_rows" in broken()


def test_a_missing_trigger_is_named(damaging: dict[str, Any]) -> None:
    name = (
        "trail_registry_injury_u" if connection.vendor == "sqlite" else "trail_registry_injury_all"
    )
    on = "" if connection.vendor == "sqlite" else " ON registry_injury"
    sql("SET CONSTRAINTS ALL IMMEDIATE") if on else None
    sql(f"DROP TRIGGER {name}{on}")
    found = broken()
    assert list(found) == ["trail_triggers"]
    assert [name in row for row in found["trail_triggers"]] == [True]


def test_a_row_that_was_changed_past_the_trail_is_found_with_its_column(
    damaging: dict[str, Any],
) -> None:
    key = damaging["injury_id"]
    assert around_triggers("UPDATE registry_injury SET sex = 'other' WHERE id = %s", key) == 1
    assert broken() == {
        "trail_rows": [f"registry_injury {key}: it is not as the trail has it: sex"]
    }


def test_a_row_that_came_past_the_trail_is_found(damaging: dict[str, Any]) -> None:
    query = "INSERT INTO followup_closedday (site_id, \"on\", reason) VALUES (%s, '2027-01-01', 'quiet')"
    assert around_triggers(query, damaging["site_id"]) == 1
    found = broken()
    assert list(found) == ["trail_births"]
    assert "followup_closedday" in found["trail_births"][0]


def test_a_row_that_went_past_the_trail_is_found(damaging: dict[str, Any]) -> None:
    key = damaging["day_id"]
    assert around_triggers("DELETE FROM followup_closedday WHERE id = %s", key) == 1
    assert broken() == {
        "trail_lost": [f"followup_closedday {key}: it is gone, and the trail knows of no deletion"]
    }


@pytest.mark.parametrize("by", [2, -1])
def test_a_version_that_does_not_count_up_is_found(damaging: dict[str, Any], by: int) -> None:
    key = damaging["review_id"]
    assert sql("UPDATE followup_review SET version = version + %s WHERE id = %s", by, key) == 1
    found = broken()
    assert list(found) == ["versions"]
    assert [row.startswith(f"followup_review {key}: it went from") for row in found["versions"]]


def test_what_two_databases_write_differently_is_the_same() -> None:
    sqlite = {"recorded_at": "2026-11-25 09:00:00", "version": 1, "bmi_kg_m2": 24.5, "missing": {}}
    postgres = {**sqlite, "recorded_at": "2026-11-25T09:00:00+00:00", "a_column_of_old": 1}
    assert _columns_unlike(Injury, sqlite, postgres) == []
    assert _columns_unlike(Injury, {**sqlite, "version": 2}, postgres) == ["version"]
    assert _columns_unlike(Injury, sqlite, None) == ["its entry was blanked"]
