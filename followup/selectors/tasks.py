"""What is to be done about patients, the most urgent first."""

from typing import Any

from django.db.models import QuerySet

from followup.models.tasks import Task
from followup.selectors.visible import visible
from registry.selectors.visible import Viewer


def open_tasks(user: Viewer, kind: str = "") -> "QuerySet[Any]":
    """Return the open tasks of a person's sites, by the day on which they are due."""
    rows = visible(user, Task, "see_due").filter(done_at__isnull=True)
    if kind:
        rows = rows.filter(kind=kind)
    found: QuerySet[Any] = rows.select_related("patient__identity", "site").order_by("due_on", "id")
    return found
