import gzip
import hashlib
import json
from typing import Any

import pandas as pd
import pytest

from analytics.exchange import first_snapshots
from analytics.models import Snapshot
from analytics.services import snapshots
from tests.builders import NOW, TODAY

CASES = {
    "columns": ["procedure_id", "site", "performed_on", "surgeon_id", "neer", "planned_removal"],
    "data": [
        [7, "north", "2025-06-05T00:00:00", 3, "IIB", False],
        [8, "south", None, None, None, True],
    ],
    "types": {
        "procedure_id": "int64",
        "site": "str",
        "performed_on": "datetime64[ns]",
        "surgeon_id": "Int64",
        "neer": "object",
        "planned_removal": "bool",
    },
}
NOTHING: dict[str, Any] = {
    "columns": ["procedure_id"],
    "data": [],
    "types": {"procedure_id": "int64"},
}


def snapshot(**changes: str) -> Snapshot:
    """Return a snapshot as the first ones were written."""
    tables = {**dict.fromkeys(first_snapshots.NAMES, NOTHING), "cases": CASES}
    content = json.dumps(tables, sort_keys=True, separators=(",", ":")).encode()
    return Snapshot(
        taken_at=NOW,
        cutoff=TODAY,
        audit_position=0,
        row_counts={"cases": 2},
        code_version="0.1.0",
        frames=gzip.compress(content, mtime=0),
        **{"content_hash": hashlib.sha256(content).hexdigest(), **changes},
    )


@pytest.mark.django_db
def test_a_snapshot_of_the_first_kind_is_still_read() -> None:
    one = snapshot()
    one.save()
    opened = snapshots.frames_of(one)
    assert opened.cutoff == TODAY
    assert opened.cases.index.tolist() == [7, 8]
    assert opened.cases["performed_on"].tolist() == [pd.Timestamp(2025, 6, 5), pd.NaT]
    assert opened.cases["surgeon_id"].tolist() == [3, pd.NA]
    assert opened.cases["planned_removal"].tolist() == [False, True]
    assert opened.readings.empty
    assert opened.motion.empty


def test_one_that_was_changed_is_refused() -> None:
    with pytest.raises(ValueError, match="was changed after it was taken"):
        first_snapshots.frames_of(snapshot(content_hash="0" * 64))
