"""What hangs on an injury or an operation, and what was moved."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Model, QuerySet

from registry.models.injuries import Injury
from registry.models.moves import RecordMove
from registry.selectors.patients import names_seen
from registry.selectors.visible import Viewer, visible

# The book-keeping of what runs by itself, which nobody looks at.
UNSEEN = frozenset(
    {"registry_recordmove", "registry_importrow", "analytics_casetoweigh", "followup_visitpresence"}
)


@dataclass(frozen=True)
class Hanging:
    """So many rows of one kind."""

    label: str
    many: int


def hanging_on(*tops: Model) -> list[Hanging]:
    """Return everything that stands on some rows of one kind, of every room, by walking the links down.

    What is void is counted too: it goes along.
    """
    found: dict[type[Model], set[Any]] = {}
    start = {row.pk for row in tops}
    ahead: list[tuple[type[Model], set[Any]]] = [(type(tops[0]), start)]
    while ahead:
        model, keys = ahead.pop()
        for link in links_to(model):
            below = link.model
            rows = set(
                below._base_manager.filter(**{f"{link.name}__in": keys}).values_list(
                    "pk", flat=True
                )
            )
            new = rows - found.get(below, set()) - (start if below is type(tops[0]) else set())
            if new:
                found.setdefault(below, set()).update(new)
                ahead.append((below, new))
    many = Counter(
        {
            str(model._meta.verbose_name_plural): len(keys)
            for model, keys in found.items()
            if model._meta.db_table not in UNSEEN
        }
    )
    return [Hanging(label.capitalize(), count) for label, count in sorted(many.items())]


def links_to(model: type[Model]) -> list[Any]:
    """Return the fields of other models that link to a model."""
    relations: Any = model._meta.get_fields(include_hidden=True)
    return [
        one.field
        for one in relations
        if one.auto_created and not one.concrete and (one.one_to_many or one.one_to_one)
    ]


def moves_here(user: Viewer) -> "QuerySet[RecordMove]":
    """Return the moves that a person may see: at whose injuries they may correct; the newest first."""
    return RecordMove.objects.filter(injury__in=visible(user, Injury, "correct")).select_related(
        "injury__site",
        "procedure",
        "to_injury",
        "from_patient",
        "to_patient",
        "moved_by",
        "undone_by",
    )


@dataclass(frozen=True)
class MoveLine:
    """A move with the names of its patients, '' where they are not for whoever looks."""

    move: RecordMove
    from_name: str
    to_name: str

    @property
    def named(self) -> set[str]:
        """Return the keys of the patients who are named."""
        both = ((self.from_name, self.move.from_patient), (self.to_name, self.move.to_patient))
        return {patient.key for name, patient in both if name}


def lines_of(user: Viewer, moves: Sequence[RecordMove]) -> list[MoveLine]:
    """Return the lines of some moves, with names of the patients whose identity a person may see."""
    patients = {one for move in moves for one in (move.from_patient_id, move.to_patient_id)}
    names = names_seen(user, patients)
    return [
        MoveLine(move, names.get(move.from_patient_id, ""), names.get(move.to_patient_id, ""))
        for move in moves
    ]
