"""What the trail says about rows, in words: who, when, what, before and after, and why."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import BooleanField, Model, Q, QuerySet

from registry.models.audit import AuditEntry
from registry.models.constructs import Construct, ConstructDeparture, Part
from registry.models.identities import AlternativeContact, Identifier, Identity
from registry.models.injuries import Classification, Injury
from registry.models.patients import Consent, Patient
from registry.models.people import Person
from registry.models.procedures import Procedure

BOOKKEEPING = frozenset(
    {
        "id",
        "version",
        "recorded_at",
        "recorded_by_id",
        "changed_at",
        "changed_by_id",
        "voided_at",
        "voided_by_id",
        "sort_name",
        "key",
        "site_id",
        "contacts_changed_at",
    }
)
SAYS_NOTHING: tuple[Any, ...] = (None, "", 0, "unknown", [], {})
WORDS = {
    "insert": "recorded",
    "update": "changed",
    "delete": "removed",
    "read": "opened",
    "erase": "erased",
}


@dataclass(frozen=True)
class FieldChange:
    """One value before and after, in words."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class Change:
    """One entry of the trail, in words."""

    at: datetime
    who: str
    what: str
    act: str
    reason: str
    fields: tuple[FieldChange, ...]


def rows_of(patient: Patient) -> list[Model]:
    """Return every row that the registry keeps of a patient, voided ones too."""
    rows: list[Model] = [patient]
    for model, way in (
        (Identity, "patient"),
        (AlternativeContact, "patient"),
        (Identifier, "patient"),
        (Consent, "patient"),
        (Injury, "patient"),
        (Classification, "injury__patient"),
        (Procedure, "injury__patient"),
        (Construct, "procedure__injury__patient"),
        (ConstructDeparture, "construct__procedure__injury__patient"),
        (Part, "construct__procedure__injury__patient"),
    ):
        rows.extend(model._base_manager.filter(**{way: patient}))
    return rows


def entries_about(rows: Sequence[Model]) -> QuerySet[AuditEntry]:
    """Return the trail's entries about some rows, the newest first."""
    wanted = Q(pk__in=[])
    by_table: dict[str, list[str]] = {}
    for row in rows:
        by_table.setdefault(row._meta.db_table, []).append(str(row.pk))
    for table, keys in by_table.items():
        wanted |= Q(table=table, row_id__in=keys)
    return AuditEntry.objects.filter(wanted).order_by("-id")


def in_words(entries: Iterable[AuditEntry], models: Iterable[type[Model]]) -> list[Change]:
    """Put entries of the trail into words; people are looked up in one query."""
    listed = list(entries)
    known = {model._meta.db_table: model for model in models}
    people = Person.objects.in_bulk({entry.person_id for entry in listed if entry.person_id})
    return [
        Change(
            at=entry.at,
            who=str(people.get(entry.person_id or 0, "the service itself")),
            what=_name(known.get(entry.table), entry.table),
            act=WORDS.get(entry.action, entry.action),
            reason=entry.reason,
            fields=_fields(known.get(entry.table), entry.before, entry.after),
        )
        for entry in listed
    ]


def _name(model: type[Model] | None, table: str) -> str:
    return str(model._meta.verbose_name) if model is not None else table


def _fields(
    model: type[Model] | None,
    before: Mapping[str, Any] | None,
    after: Mapping[str, Any] | None,
) -> tuple[FieldChange, ...]:
    if model is None or after is None:
        return ()
    changes = []
    for field in model._meta.concrete_fields:
        name = str(field.column)
        if name in BOOKKEEPING or (before or {}).get(name) == after.get(name):
            continue
        # A link in a new row says only where the row belongs, and a default says nothing.
        if before is None and (field.is_relation or after.get(name) in SAYS_NOTHING):
            continue
        was, now = _word(field, (before or {}).get(name)), _word(field, after.get(name))
        changes.append(FieldChange(str(field.verbose_name).capitalize(), was, now))
    return tuple(changes)


def _word(field: Any, value: Any) -> str:
    if value is None or value in ("", [], {}):
        return "nothing"
    if isinstance(field, BooleanField):
        return "yes" if value else "no"
    if field.is_relation:
        return f"number {value}"
    return str(dict(field.flatchoices).get(value, value))
