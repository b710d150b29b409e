"""The analytics rows."""

from analytics.models.definitions import EndpointChoice
from analytics.models.meetings import (
    DecisionState,
    DecisionStep,
    Meeting,
    MeetingDecision,
    MeetingSite,
)
from analytics.models.packs import FileKind, Pack, PackFile, PackSite, PackState
from analytics.models.snapshots import Snapshot, SnapshotTable

__all__ = [
    "DecisionState",
    "DecisionStep",
    "EndpointChoice",
    "FileKind",
    "Meeting",
    "MeetingDecision",
    "MeetingSite",
    "Pack",
    "PackFile",
    "PackSite",
    "PackState",
    "Snapshot",
    "SnapshotTable",
]
