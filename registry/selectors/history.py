"""What the trail says about rows, in words: who, when, what, before and after, and why."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import BooleanField, Model, Q, QuerySet

from registry.models.audit import AuditEntry
from registry.models.people import Person
from registry.selectors.patient_tables import patient_tables

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


def entries_about(rows: Mapping[str, Collection[str]]) -> QuerySet[AuditEntry]:
    """Return the trail's entries about some rows, given by table and number; the newest first."""
    wanted = Q(pk__in=[])
    for table, keys in rows.items():
        wanted |= Q(table=table, row_id__in=keys)
    return AuditEntry.objects.filter(wanted).order_by("-id")


def in_words(
    entries: Iterable[AuditEntry], who: Callable[[int | None], str] | None = None
) -> list[Change]:
    """Put entries of the trail into words; people are looked up in one query, unless `who` tells them."""
    listed = list(entries)
    known = {table.name: table.model for table in patient_tables()}
    ids = {entry.person_id for entry in listed if entry.person_id}
    people = Person.objects.in_bulk(ids) if who is None else {}
    return [
        Change(
            at=entry.at,
            who=who(entry.person_id)
            if who is not None
            else str(people.get(entry.person_id or 0, "the service itself")),
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
    if isinstance(value, list):
        return "; ".join(_listed(one) for one in value)
    return (
        _listed(value)
        if isinstance(value, dict)
        else str(dict(field.flatchoices).get(value, value))
    )


def _listed(value: Any) -> str:
    """Say one entry of a list in its own words where it has some."""
    if not isinstance(value, dict):
        return str(value)
    return (
        str(value["words"]) if "words" in value else ", ".join(f"{k} {v}" for k, v in value.items())
    )
