"""The analytics rows."""

from analytics.models.definitions import EndpointChoice
from analytics.models.snapshots import Snapshot, SnapshotTable

__all__ = ["EndpointChoice", "Snapshot", "SnapshotTable"]
