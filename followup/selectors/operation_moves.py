"""What goes along with an operation to another injury, and what stays."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet

from followup.models.films import Film
from followup.models.images import IncomingImage
from followup.models.motion import MotionExam
from followup.models.scores import Score
from followup.rules.along import goes_along
from followup.rules.scores.catalogue import INSTRUMENTS
from registry.models.injuries import Injury
from registry.models.procedures import Procedure
from registry.selectors.operation_moves import staying

# What is found on an injury on a day, by the name of its kind, with the column of the day.
FOUND: dict[str, tuple[type[Any], str]] = {
    "film": (Film, "taken_on"),
    "motion": (MotionExam, "examined_on"),
    "score": (Score, "taken_on"),
}


@dataclass(frozen=True)
class Found:
    """One thing that was found on an injury: its kind and key, in words, and whether it goes along."""

    kind: str
    key: int
    on: date
    words: str
    goes: bool

    @property
    def code(self) -> str:
        """How a form calls it."""
        return f"{self.kind}:{self.key}"


def found_on(injury: Injury) -> "dict[str, QuerySet[Any]]":
    """Return everything that was found on an injury by kind, void rows too."""
    return {kind: model.everything.filter(injury=injury) for kind, (model, _) in FOUND.items()}


def choosable(injury: Injury, chain: Sequence[Procedure]) -> list[Found]:
    """Return what was found on an injury, by day, and whether by its day it goes with the operations."""
    moving = [one.performed_on for one in chain if one.voided_at is None]
    others = list(staying(chain).values_list("performed_on", flat=True))
    lines = [
        Found(kind, row.pk, day, _words(kind, row), goes_along(day, moving, others))
        for kind, rows in found_on(injury).items()
        for row in rows
        for day in [getattr(row, FOUND[kind][1])]
    ]
    return sorted(lines, key=lambda line: (line.on, line.kind, line.key))


def offered(injury: Injury) -> str:
    """Return a word for what could go along by now: another one once something was recorded or moved."""
    text = ";".join(
        f"{kind}:{','.join(str(key) for key in sorted(rows.values_list('pk', flat=True)))}"
        for kind, rows in found_on(injury).items()
    )
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def stays_behind(injury: Injury, chain: Sequence[Procedure]) -> list[str]:
    """Return, in words, what of an injury is its own and stays, whatever is chosen."""
    classes = [f"Class: {one}" for one in injury.classifications.filter(superseded=False)]
    operations = [f"Operation: {one}" for one in staying(chain)]
    numbers = injury.foreign_numbers.count()
    waiting = IncomingImage.objects.filter(injury=injury, image__isnull=True).count()
    counted = (("number of another system", numbers), ("picture that waits for a film", waiting))
    return [
        f"The injury itself: {injury.get_kind_display()}, its date, mechanism and risks",
        *classes,
        *operations,
        *(f"{many} {what}{'s' if many > 1 else ''}" for what, many in counted if many),
    ]


def _words(kind: str, row: Any) -> str:
    void = " (void)" if row.voided_at is not None else ""
    if kind == "film":
        return f"Film: {row}{void}"
    if kind == "motion":
        side, mode = row.get_side_display().lower(), row.get_mode_display().lower()
        return f"Motion: {side}, {mode}, {row.examined_on:%d %b %Y}{void}"
    known = INSTRUMENTS.get(row.instrument)
    return f"Score: {known.name if known else row.instrument}, {row.taken_on:%d %b %Y}{void}"
