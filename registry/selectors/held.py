"""Everything that is held on one person, table by table and in words, found by walking the models.

A table is in it when its rows lead to a patient, through links or as one of several, so that a new one is
in it by itself; a test fails for one that is neither in it nor said to be about nobody. People of the
service are told by their roles and a number of this report alone: who looked is owed, by name it is
not (common practice, no source; local policy decides).
"""

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.apps import apps
from django.db.models import BooleanField, Model, Q, QuerySet, TextField
from django.db.models.functions import Cast
from django.utils import timezone

from registry import notices
from registry.models.audit import AuditEntry
from registry.models.hospital_messages import HospitalMessage
from registry.models.identities import HeaderIdentity, Identifier, Identity
from registry.models.patients import KEY_LETTERS, Patient, PatientSite
from registry.models.people import Person
from registry.models.sites import Membership, Site
from registry.selectors import choices, history, hospital_messages, patient_tables

# What opens a door, or only serves the machine, tells nothing of a person.
NOT_TOLD = {"token_hash", "claim", "sort_name"}
NOBODY = "the service itself"
EXACT_TO = "minutes"
ANOTHER = "another person"
LIKE_A_KEY = re.compile(f"[{KEY_LETTERS}]{{8}}")


@dataclass(frozen=True)
class HeldRow:
    """One row: its number, and its columns with what they hold, in words."""

    number: int
    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class HeldTable:
    """One table with the rows about a person."""

    name: str
    title: str
    rows: tuple[HeldRow, ...]


@dataclass(frozen=True)
class Seen:
    """One entry of the trail: when, who by role, what was done to what, and which words changed."""

    at: datetime
    who: str
    act: str
    what: str
    reason: str
    changed: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class Held:
    """Everything: the tables, the trail, copies that may have held the person, files, and the rest."""

    tables: tuple[HeldTable, ...]
    trail: tuple[Seen, ...]
    taken: tuple[Seen, ...]
    files: tuple[tuple[str, str], ...]
    elsewhere: tuple[str, ...]


def models_about_patients() -> list[type[Model]]:
    """Return the models of the service whose rows can be about a patient, by the name of their table."""
    rooms = [config for config in apps.get_app_configs() if getattr(config, "is_room", False)]
    models = [model for config in rooms for model in config.get_models()]
    about = [model for model in models if _ways(model) or model is HeaderIdentity]
    return sorted(about, key=lambda model: model._meta.db_table)


def rows_about(model: type[Model], patients: Sequence[Patient]) -> "QuerySet[Any]":
    """Return the rows of a model that are about some entries of one person, voided ones too."""
    if model is HeaderIdentity:
        return _named_like(patients)
    if model is HospitalMessage:
        return _messages_naming(patients)
    wanted = Q(pk__in=[])
    for way in _ways(model):
        wanted |= Q(**{f"{way or 'pk'}__in": [one.pk for one in patients]})
    found = model._base_manager.filter(wanted).order_by("pk").values("pk")
    return model._base_manager.filter(pk__in=found).order_by("pk")


def entries_of(patient: Patient) -> list[Patient]:
    """Return a patient with every entry that was merged into it."""
    everyone = [patient]
    for one in everyone:
        everyone.extend(Patient.everything.filter(merged_into=one))
    return everyone


def sites_of(patient: Patient) -> set[int]:
    """Return the sites where a person is, or any entry of theirs."""
    rows = PatientSite.objects.filter(patient__in=entries_of(patient))
    return set(rows.values_list("site_id", flat=True))


def held(patient: Patient) -> Held:
    """Return everything that is held on a person; the number of queries hangs on the tables alone."""
    patients = entries_of(patient)
    found = {model: list(rows_about(model, patients)) for model in models_about_patients()}
    words = _Words(patients, set(found))
    rows_in_words = {model: [words.row(one) for one in rows] for model, rows in found.items()}
    others = _others_named(rows_in_words.values(), patients)
    tables = tuple(
        HeldTable(
            model._meta.db_table,
            str(model._meta.verbose_name_plural).capitalize(),
            tuple(_without(others, one) for one in rows),
        )
        for model, rows in rows_in_words.items()
        if rows
    )
    everything = [row for rows in found.values() for row in rows]
    answers = notices.holdings_asked.send(sender=Patient, patients=patients)
    return Held(
        tables=tables,
        trail=tuple(_trail(patients, everything, words)),
        taken=tuple(_taken(patients, words)),
        files=tuple(_files(found)),
        elsewhere=tuple(line for _, lines in answers for line in lines or ()),
    )


def _others_named(tables: Iterable[Sequence[HeldRow]], patients: Sequence[Patient]) -> list[str]:
    """Return the keys of other patients that stand in any words, such as of whom a message may be."""
    texts = (value for rows in tables for row in rows for _, value in row.cells)
    like = {found for text in texts for found in LIKE_A_KEY.findall(text)}
    keys = Patient.everything.filter(key__in=like).exclude(pk__in=[one.pk for one in patients])
    return list(keys.values_list("key", flat=True))


def _without(others: Sequence[str], row: HeldRow) -> HeldRow:
    cells = []
    for label, value in row.cells:
        told = value
        for key in others:
            told = told.replace(key, ANOTHER)
        cells.append((label, told))
    return HeldRow(row.number, tuple(cells))


def _ways(model: type[Model]) -> list[str]:
    """Return the ways from a model's rows to patients: those that never break off, or else the others."""
    ways = choices.ways_to_patient(model)
    whole = [way for way, optional in ways if not optional]
    several = [one.name for one in model._meta.many_to_many if one.related_model is Patient]
    return [*(whole or [way for way, _ in ways]), *several]


def _named_like(patients: Sequence[Patient]) -> "QuerySet[Any]":
    numbers = Identifier.objects.filter(patient__in=patients).values("value")
    wanted = Q(number__in=numbers)
    for one in Identity.objects.filter(patient__in=patients):
        wanted |= Q(family_name__iexact=one.family_name, given_name__iexact=one.given_name)
    return HeaderIdentity.objects.filter(wanted).order_by("pk")


def _messages_naming(patients: Sequence[Patient]) -> "QuerySet[Any]":
    """Return what the hospital's system sent about a person, that too which nobody has settled yet."""
    numbers = Identifier.objects.filter(patient__in=patients).values_list("value", flat=True)
    names = [
        f"{one.family_name}^{one.given_name}"
        for one in Identity.objects.filter(patient__in=patients)
    ]
    return hospital_messages.naming(patients=patients, numbers=list(numbers), names=names)


class _Words:
    """Puts rows into words; people of the service are numbered as they come up."""

    def __init__(self, patients: Sequence[Patient], about: set[type[Model]]) -> None:
        self._keys = {one.pk: one.key for one in patients}
        self._about = about
        self._staff: dict[int, str] = {}
        self._named: dict[tuple[type[Model], Any], str] = {}
        self._roles: dict[int, set[str]] = {}
        for row in Membership.objects.select_related("site").order_by("pk"):
            told = f"{row.get_role_display().lower()} at {row.site}"
            self._roles.setdefault(row.person_id, set()).add(told)

    def who(self, person_id: int | None) -> str:
        """Tell somebody of the service by a number and their roles."""
        if person_id is None:
            return NOBODY
        if person_id not in self._staff:
            roles = ", ".join(sorted(self._roles.get(person_id, ()))) or "no role"
            self._staff[person_id] = f"staff member {len(self._staff) + 1} ({roles})"
        return self._staff[person_id]

    def row(self, row: Model) -> HeldRow:
        cells = []
        for column in row._meta.concrete_fields:
            if column.name not in NOT_TOLD and not column.primary_key:
                told = self.value(column, row)
                if told:
                    cells.append((str(column.verbose_name).capitalize(), told))
        return HeldRow(int(row.pk), tuple(cells))

    def value(self, column: Any, row: Model) -> str:
        """Return what a column holds in words, '' where it holds nothing."""
        value = getattr(row, column.attname)
        if value is None or value in ("", [], {}):
            return ""
        if column.is_relation:
            return self._linked(column, value, row)
        if isinstance(column, BooleanField):
            return "yes" if value else "no"
        if isinstance(value, datetime):
            return timezone.localtime(value).isoformat(timespec=EXACT_TO)
        if isinstance(value, bytes | memoryview):
            return f"{len(bytes(value))} bytes"
        if isinstance(value, dict | list):
            return json.dumps(value, ensure_ascii=False, default=str)
        return str(dict(column.flatchoices).get(value, value))

    def _linked(self, column: Any, value: Any, row: Model) -> str:
        target: type[Model] = column.related_model
        if target is Patient:
            return self._keys.get(value, ANOTHER)
        if target is Person:
            return self.who(value)
        if target in self._about:
            return f"{target._meta.verbose_name} {value}"
        if (target, value) not in self._named:
            self._named[target, value] = str(getattr(row, column.name))
        return self._named[target, value]


def _trail(patients: Sequence[Patient], rows: Sequence[Model], words: _Words) -> Iterator[Seen]:
    """Yield who changed or opened anything, the newest first; then the lists that named the person."""
    keys: dict[str, set[str]] = {}
    for row in rows:
        keys.setdefault(row._meta.db_table, set()).add(str(row.pk))
    # What was removed from under the person is known to the trail alone.
    everywhere = list(Site.objects.values_list("pk", flat=True))
    for one in patients:
        for table, found in patient_tables.rows_of(one, everywhere).items():
            keys.setdefault(table, set()).update(found)
    yield from map(_seen, history.in_words(history.entries_about(keys), words.who))
    yield from _listed(patients, words)


def _seen(change: history.Change) -> Seen:
    fields = tuple((one.label, one.before, one.after) for one in change.fields)
    return Seen(change.at, change.who, change.act, change.what, change.reason, fields)


def _listed(patients: Sequence[Patient], words: _Words) -> Iterator[Seen]:
    lists = AuditEntry.objects.filter(action="read", table=Patient._meta.db_table, row_id="")
    keys = Q(pk__in=[])
    for one in patients:
        keys |= Q(said__contains=f'"{one.key}"')
    rows = lists.annotate(said=Cast("after", TextField())).filter(keys).order_by("-pk")
    for entry in rows:
        yield Seen(entry.at, words.who(entry.person_id), "opened", "a list", entry.reason, ())


def _taken(patients: Sequence[Patient], words: _Words) -> Iterator[Seen]:
    """Yield the copies that were taken while the person was here, and may have held them."""
    since = min(one.recorded_at for one in patients)
    here = [str(key) for one in patients for key in sites_of(one)]
    rows = AuditEntry.objects.filter(action="read", at__gte=since).exclude(
        table=Patient._meta.db_table
    )
    of_sites = Q(table=Site._meta.db_table) & ~Q(row_id__in=here)
    for entry in rows.exclude(of_sites).order_by("-pk"):
        yield Seen(entry.at, words.who(entry.person_id), "taken", "a copy", entry.reason, ())


def _files(found: Mapping[type[Model], Sequence[Model]]) -> Iterator[tuple[str, str]]:
    for model, rows in found.items():
        storage, column = getattr(model, "archived_file", ("", ""))
        if storage:
            yield from ((storage, getattr(row, column)) for row in rows)
