from datetime import timedelta

import pytest

from followup.selectors.imports import SHOWN, latest_batches
from registry.models import ImportBatch, Person
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db


def given(by: Person, day: int, code: str = "north") -> ImportBatch:
    batch: ImportBatch = ImportBatch.objects.create(
        site=builders.site(code),
        file_name=f"{code}-{day}.csv",
        content_hash="0" * 64,
        started_at=NOW - timedelta(days=day),
        started_by=by,
        state="done",
        rows_read=1,
        rows_landed=1,
        rows_known=0,
        rows_refused=0,
    )
    return batch


def test_the_latest_files_of_own_sites_come_first(coordinator: Person, outsider: Person) -> None:
    for day in range(SHOWN + 3):
        given(coordinator, day)
    given(outsider, 0, "south")
    names = [batch.file_name for batch in latest_batches(coordinator)]
    assert names == [f"north-{day}.csv" for day in range(SHOWN)]
    assert [batch.file_name for batch in latest_batches(outsider)] == ["south-0.csv"]


def test_who_may_not_import_sees_no_file(coordinator: Person, surgeon: Person) -> None:
    given(coordinator, 1)
    assert list(latest_batches(surgeon)) == []
