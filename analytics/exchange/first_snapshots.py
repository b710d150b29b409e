"""Snapshots of the first kind, which held all frames as one compressed JSON; they stay readable."""

import gzip
import hashlib
import json
from typing import Any

import pandas as pd

from analytics.models.snapshots import Snapshot
from analytics.selectors.frames import Frames

NAMES = ("cases", "readings", "complications", "reoperations", "reviews")


def frames_of(snapshot: Snapshot) -> Frames:
    """Return the frames of a snapshot of the first kind; what it never had is empty.

    Raises ValueError when its content does not match its hash.
    """
    content = gzip.decompress(bytes(snapshot.frames))
    if hashlib.sha256(content).hexdigest() != snapshot.content_hash:
        raise ValueError(f"snapshot {snapshot.pk} was changed after it was taken")
    packed = json.loads(content)
    parts = {name: _unpacked(packed[name]) for name in NAMES}
    parts["cases"] = parts["cases"].set_index("procedure_id")
    return Frames(snapshot.cutoff, None, **parts)


def _unpacked(table: dict[str, Any]) -> pd.DataFrame:
    frame = pd.DataFrame(table["data"], columns=table["columns"], dtype=object)
    for column, kind in table["types"].items():
        if kind.startswith("datetime"):
            moments = pd.to_datetime(frame[column], utc=True)
            frame[column] = moments.dt.tz_localize(None).astype("datetime64[ns]")
        elif kind in ("object", "str", "category"):
            frame[column] = frame[column].astype("str")
        else:
            frame[column] = frame[column].astype(kind)
    return frame
