"""Files of cases that were imported before."""

from django.db.models import QuerySet

from followup.selectors.visible import visible
from registry.models.imports import ImportBatch
from registry.selectors.visible import Viewer

SHOWN = 20


def latest_batches(user: Viewer) -> QuerySet[ImportBatch]:
    """Return the latest files that were given at the sites where a person may import."""
    rows = visible(user, ImportBatch, "import_cases").select_related("site", "started_by")
    latest: QuerySet[ImportBatch] = rows.order_by("-started_at", "-id")[:SHOWN]
    return latest
