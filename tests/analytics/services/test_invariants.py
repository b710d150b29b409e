"""Snapshots, packs, alerts and signals that are not what they say are found."""

from typing import Any

import pytest

from analytics.models import PackFile, Snapshot, SnapshotTable
from tests.damage import broken, sql

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]


def test_a_snapshot_with_another_hash_is_found(damaging: dict[str, Any]) -> None:
    key = Snapshot.objects.latest().pk
    assert sql("UPDATE analytics_snapshot SET content_hash = 'x' WHERE id = %s", key) == 1
    assert broken() == {
        "snapshots": [f"analytics_snapshot {key}: its hash is not that of its tables"]
    }


def test_a_snapshot_that_lacks_a_table_is_found(damaging: dict[str, Any]) -> None:
    table = SnapshotTable.objects.filter(name="reviews").latest("pk")
    sql("DELETE FROM analytics_snapshottable WHERE id = %s", table.pk)
    assert broken()["snapshots"][1:] == [
        f"analytics_snapshot {table.snapshot_id}: it lacks reviews"
    ]


def test_a_table_with_other_content_is_found(damaging: dict[str, Any]) -> None:
    one, other = SnapshotTable.objects.exclude(rows=0).order_by("pk")[:2]
    query = "UPDATE analytics_snapshottable SET content = %s WHERE id = %s"
    sql(query, bytes(other.content), one.pk)
    assert broken() == {
        "snapshots": [f"analytics_snapshottable {one.pk}: its content is not what was kept"]
    }
    query = "UPDATE analytics_snapshottable SET bytes_hash = %s WHERE id = %s"
    sql(query, other.bytes_hash, one.pk)
    assert broken() == {
        "snapshots": [f"analytics_snapshottable {one.pk}: its hash is not that of its content"]
    }


def test_a_pack_without_a_file_or_with_another_is_found(damaging: dict[str, Any]) -> None:
    file = PackFile.objects.get(pack=damaging["pack_id"], kind="pdf")
    sql("UPDATE analytics_packfile SET content = %s WHERE id = %s", b"other", file.pk)
    assert broken() == {
        "packs": [f"analytics_packfile {file.pk}: its content is not what was kept"]
    }
    sql("DELETE FROM analytics_packfile WHERE id = %s", file.pk)
    assert broken() == {
        "packs": [f"analytics_pack {file.pack_id}: it is ready and lacks its Pages (PDF)"]
    }


def test_an_alert_that_no_step_explains_is_found(damaging: dict[str, Any]) -> None:
    key = damaging["alert_id"]
    query = (
        "UPDATE analytics_lossalert SET state = 'planned', plan = 'observe', "
        "due_on = '2026-12-01' WHERE id = %s"
    )
    assert sql(query, key) == 1
    assert broken() == {"alerts": [f"analytics_lossalert {key}: no step says that it was Planned"]}


def test_a_signal_that_no_step_explains_is_found(damaging: dict[str, Any]) -> None:
    key = damaging["signal_id"]
    assert sql("UPDATE analytics_signal SET state = 'checks' WHERE id = %s", key) == 1
    assert broken() == {
        "signals": [f"analytics_signal {key}: its state is not that of its last step"]
    }
