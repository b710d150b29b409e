"""What patients answered, as a coordinator sees it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from followup.models.replies import Reply, ReplyFate
from followup.selectors.messages import sites_with_names
from followup.selectors.visible import visible
from registry.models.patients import Patient
from registry.selectors.visible import Viewer

SHOWS = {"waiting": "Waits for a person", "all": "All"}


@dataclass(frozen=True)
class Whose:
    """A patient whose number an answer came from: by name where that may be seen, else by key."""

    key: str
    shown: str
    may_open: bool


@dataclass(frozen=True)
class ReplyLine:
    """One answer; number and text are '' to whoever may not see who a patient is."""

    reply: Reply
    sender: str
    text: str
    whose: tuple[Whose, ...]
    may_read: bool
    waits: bool


def replies_seen(user: Viewer, show: str) -> "QuerySet[Any]":
    """Return the answers that a person may see, the newest first."""
    rows = visible(user, Reply, "see_messages")
    if show == "waiting":
        rows = rows.filter(fate=ReplyFate.WAITING)
    found: QuerySet[Any] = rows.select_related("site", "seen_by").prefetch_related(
        "patients__identity"
    )
    return found.order_by("-received_at", "-id")


def waiting_count(user: Viewer) -> int:
    """Return how many answers wait for a person."""
    return visible(user, Reply, "see_messages").filter(fate=ReplyFate.WAITING).count()


def lines(user: Viewer, rows: Sequence[Any]) -> list[ReplyLine]:
    """Return the lines of one page."""
    named = set(sites_with_names(user))
    return [_line(row, may_read=row.site_id in named) for row in rows]


def _line(reply: Reply, *, may_read: bool) -> ReplyLine:
    return ReplyLine(
        reply=reply,
        sender=reply.sender if may_read else "",
        text=reply.text if may_read else "",
        whose=tuple(_whose(one, may_read) for one in reply.patients.all()),
        may_read=may_read,
        waits=reply.fate == ReplyFate.WAITING,
    )


def _whose(patient: Patient, may_read: bool) -> Whose:
    identity = getattr(patient, "identity", None)
    shown = str(identity) if identity is not None and may_read else patient.key
    return Whose(patient.key, shown, may_open=may_read and identity is not None)
