"""The analytics rows."""

from analytics.models.definitions import EndpointChoice
from analytics.models.snapshots import Snapshot

__all__ = ["EndpointChoice", "Snapshot"]
