"""Dead runs and ledgers that do not add up are found."""

from datetime import timedelta
from typing import Any

import pytest

from registry.models import ImportBatch, ImportRow, JobLock, JobRun
from registry.services import jobs
from tests.damage import LOOKED_AT, broken, sql

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]


def test_a_run_that_died_and_was_never_buried_is_found(damaging: dict[str, Any]) -> None:
    jobs._begin("sweep_reviews", LOOKED_AT - timedelta(hours=24), alone=True, lease=jobs.LEASE)
    assert broken() == {}
    JobRun.objects.update(beat_at=LOOKED_AT - timedelta(hours=26))
    assert list(broken()) == ["jobs"]
    JobLock.objects.update(until=LOOKED_AT - timedelta(hours=26))
    assert broken()["jobs"][1] == (
        "registry_joblock sweep_reviews: it is held by a run that is silent for more than a day"
    )


def batch_of(damaging: dict[str, Any]) -> ImportBatch:
    """Return a batch that landed one row."""
    batch = ImportBatch.objects.get(pk=damaging["batch_id"])
    batch.rows_read = batch.rows_landed = 1
    batch.save()
    ImportRow.objects.create(
        batch=batch,
        line=2,
        fingerprint="f" * 64,
        procedure_id=damaging["bare_procedure_id"],
        fate="landed",
    )
    assert broken() == {}
    return batch


def test_a_ledger_that_does_not_add_up_is_found(damaging: dict[str, Any]) -> None:
    batch = batch_of(damaging)
    query = (
        "UPDATE registry_importbatch SET rows_known = 1, rows_read = rows_read + 1 WHERE id = %s"
    )
    assert sql(query, batch.pk) == 1
    assert broken() == {
        "import_ledgers": [
            f"registry_importbatch {batch.pk}: it says 1 rows known, its rows 0",
        ]
    }


def test_a_row_that_was_lost_from_a_ledger_is_found(damaging: dict[str, Any]) -> None:
    batch = batch_of(damaging)
    assert sql("DELETE FROM registry_importrow WHERE batch_id = %s", batch.pk) == 1
    assert list(broken()) == ["import_ledgers"]


def test_a_row_that_landed_twice_is_found(damaging: dict[str, Any]) -> None:
    batch = batch_of(damaging)
    row = ImportRow.objects.get(batch=batch)
    ImportRow.objects.create(
        batch=batch, line=900, fingerprint=row.fingerprint, procedure=row.procedure, fate="landed"
    )
    query = (
        "UPDATE registry_importbatch SET rows_landed = rows_landed + 1, rows_read = rows_read + 1 "
        "WHERE id = %s"
    )
    sql(query, batch.pk)
    found = broken()
    assert list(found) == ["import_rows"]
    assert found["import_rows"] == [
        f"registry_procedure {row.procedure_id}: 2 lines say that they landed it",
        f"fingerprint {row.fingerprint[:12]}: the same row landed 2 times at one site",
    ]
