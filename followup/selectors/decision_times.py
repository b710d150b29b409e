"""How long removal questions waited, by construct type."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from followup.models.hardware import HardwareDecision, HardwareState
from followup.rules.decision_times import End, Times, Wait, times
from followup.selectors.visible import visible
from registry.models.patients import PatientStatus
from registry.selectors.visible import Viewer

ALL = "All constructs"
NO_CONSTRUCT = "Construct not recorded"
COLUMNS = (
    "procedure__construct__construct_type__code",
    "procedure__construct__construct_type__name",
    "raised_on",
    "first_decided_on",
    "decided_on",
    "state",
    "procedure__injury__patient__status",
    "procedure__injury__patient__status_on",
)


@dataclass(frozen=True)
class TypeTimes:
    """The times of one construct type, or of all."""

    code: str
    name: str
    to_decision: Times
    to_removal: Times


def by_construct_type(user: Viewer, today: date) -> list[TypeTimes]:
    """Return the times from raised to decided and to removed: all first, then by type; one query."""
    decided: dict[tuple[str, str], Counter[tuple[int, End]]] = {}
    removed: dict[tuple[str, str], Counter[tuple[int, End]]] = {}
    for kind, to_decision, to_removal in _waits(user, today):
        for key in (("", ALL), kind):
            decided.setdefault(key, Counter())[to_decision] += 1
            removed.setdefault(key, Counter())[to_removal] += 1
    return [
        TypeTimes(code, name, _times(decided[code, name]), _times(removed[code, name]))
        for code, name in sorted(decided, key=lambda key: (key[1] != ALL, key))
    ]


def _waits(
    user: Viewer, today: date
) -> Iterator[tuple[tuple[str, str], tuple[int, End], tuple[int, End]]]:
    rows = visible(user, HardwareDecision, "see_hardware").values_list(*COLUMNS)
    for code, name, raised, first, last, state, status, left_on in rows.iterator(chunk_size=2000):
        left = status != PatientStatus.ACTIVE
        still = (left_on or today, End.LEFT) if left else (today, End.OPEN)
        to_decision = (first, End.ANSWERED) if first is not None else still
        to_removal = still
        if state == HardwareState.DONE:
            to_removal = (last, End.ANSWERED)
        elif state == HardwareState.DECLINED:
            to_removal = (last, End.OTHERWISE)
        kind = (code or "", name or NO_CONSTRUCT)
        yield kind, _since(raised, to_decision), _since(raised, to_removal)


def _since(raised: date, ended: tuple[date, End]) -> tuple[int, End]:
    """Count the days; what was entered after the fact may have been answered before it was raised."""
    return max(0, (ended[0] - raised).days), ended[1]


def _times(counted: Counter[tuple[int, End]]) -> Times:
    return times(Wait(days, end, number) for (days, end), number in counted.items())
