"""The packs of figures that a person may see."""

from typing import Any

from django.db.models import QuerySet

from analytics.models.packs import Pack
from analytics.selectors.visible import visible
from registry.selectors.visible import Viewer


def packs(user: Viewer) -> "QuerySet[Any]":
    """Return the packs of figures all of whose sites a person may see, the last first."""
    rows: QuerySet[Any] = (
        visible(user, Pack)
        .select_related("asked_by", "meeting", "snapshot")
        .defer("snapshot__frames")
        .prefetch_related("sites")
        .order_by("-id")
    )
    return rows
