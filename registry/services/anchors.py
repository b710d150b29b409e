"""What the trail's chain came to each night, written down outside the database.

Whoever owns the database could take the end of the trail away and the place where it was sealed with
it, or seal all of it anew: nothing inside would contradict. A line outside, of which a copy lies with
somebody else, does.
"""

import logging
import os
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings

from registry.errors import BadInput
from registry.models.audit import AuditEntry, ChainHead
from registry.rules.chain import BrokenLink
from registry.services import audit

LOG = logging.getLogger(__name__)
AT_ONCE = 500


@dataclass(frozen=True)
class Anchor:
    """How far the chain went at a moment: the place of its last entry, and that entry's hash."""

    at: str
    position: int
    hash: str


def drop_anchor(*, now: datetime) -> bool:
    """Write down how far the chain goes; say whether it went further than when last written down."""
    audit.seal_all()
    head = ChainHead.objects.filter(id=1).first()
    path = Path(settings.TRAIL_ANCHORS)
    last = anchors_in(path)[-1:] if path.exists() else []
    if head is None or (last and (last[0].position, last[0].hash) == (head.position, head.hash)):
        return False
    moment = now.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("a", encoding="ascii") as file:
        file.write(f"{moment} {head.position} {head.hash}\n")
        file.flush()
        os.fsync(file.fileno())
    LOG.info("the trail goes to entry %d, whose hash is %s", head.position, head.hash)
    return True


def anchors_in(path: Path) -> list[Anchor]:
    """Return what a file says of the chain, the oldest first.

    Raises BadInput, which names the line, for what is no such file.
    """
    found = []
    for number, line in enumerate(
        path.read_text(encoding="ascii", errors="replace").split("\n"), 1
    ):
        parts = line.split()
        if not parts:
            continue
        if len(parts) != 3 or not parts[1].isdecimal():
            raise BadInput(f"{path}, line {number} is not: moment, number of the entry, hash.")
        found.append(Anchor(parts[0], int(parts[1]), parts[2]))
    return found


def first_lost(anchors: list[Anchor]) -> BrokenLink | None:
    """Return the first place where the chain is not what was written down, None where all are."""
    for start in range(0, len(anchors), AT_ONCE):
        some = anchors[start : start + AT_ONCE]
        places = [one.position for one in some]
        held = dict(AuditEntry.objects.filter(position__in=places).values_list("position", "hash"))
        for one in some:
            if one.position and held.get(one.position) != one.hash:
                what = f"what was there on {one.at} was removed, or was sealed anew since"
                return BrokenLink(one.position, what)
    return None
