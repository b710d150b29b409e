"""Every column of every table that is in the trail, changed in every way there is below a service.

A row is made of the model alone, so that a new model or column is walked without a line here. What the
rules of a table say about several columns at once is lifted meanwhile: the trail has to see what gets
past them as well.
"""

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

import pytest
from django.apps import apps
from django.db import connection, models

from registry.models import AuditEntry, Person
from registry.models.base import ClinicalRow
from registry.services import records, triggers
from tests import builders, trailed
from tests.builders import NOW, TODAY
from tests.scene import taken_back

pytestmark = pytest.mark.django_db
AnyModel = type[models.Model]
AnyField = Any

MODELS = {model._meta.label: model for model in triggers.audited_models()}
WORKED_OUT = "the database works it out from other columns, which are there"
SECRET = "a secret, or its hash"
USED = "when it was last used, which no person changes"
# What of a watched table never reaches the trail, and why.
LEFT_OUT = {
    "registry_person": {"password": SECRET, "last_login": USED},
    "registry_part": dict.fromkeys(
        (
            *("batch_folded", "batch_ordered", "batch_alike"),
            *("serial_folded", "serial_ordered", "serial_alike"),
        ),
        WORKED_OUT,
    ),
    "registry_implantmodel": dict.fromkeys(("device_key", "catalogue_key"), WORKED_OUT),
    "followup_calendarfeed": {
        "token_hash": SECRET,
        "last_used_at": USED,
        "digest": "what was last handed out, to say 'unchanged'",
        "digest_at": "what was last handed out, to say 'unchanged'",
    },
}
# Tables of the rooms that are not watched, and why.
NOT_WATCHED = {
    "registry.SignInTry": "counts of tries, which go by themselves",
    "registry.SignInEvent": "itself what was written down at the door",
    "registry.TokenScope": "goes with a token, whose making and end are written down at the door",
    "analytics.ReleasedPopulation": "only ever added to; the trail would repeat every list",
    "analytics.ResearchKey": "a secret, which the trail would repeat; its project is watched",
    "registry.AuditEntry": "the trail itself",
    "registry.ChainHead": "the trail itself",
    "registry.JobRun": "what a worker did, not what anybody recorded",
    "registry.JobLock": "what a worker does, not what anybody recorded",
    "registry.ImportRow": "a row of a file with where it went; what it made is in the trail",
    "registry.HospitalMessage": "kept as it came and never changed but for its state",
    "registry.HospitalRecord": "the newest word of another system; what it changed is in the trail",
    "registry.ForeignNumber": "what another system calls our rows; written once",
    "registry.HeaderIdentity": "names out of a film's file, until the film is sorted",
    "followup.BulkExport": "a copy that goes by itself; who took it is in the trail",
    "followup.BulkFile": "a copy that goes by itself; who took it is in the trail",
    "followup.VisitDraft": "what is being typed; saving it is in the trail",
    "followup.VisitPresence": "who has a page open",
    "followup.HospitalSlot": "the newest word of another system; the appointment is in the trail",
    "followup.ImportDraft": "a file on its way in; what it made is in the trail",
    "followup.ImportFinding": "a file on its way in; what it made is in the trail",
    "followup.ImportPair": "a file on its way in; what it made is in the trail",
    "followup.LetterText": "names somebody and goes with an erasure; the letter has its hash",
    "followup.ReviewSum": "counted anew each night",
    "followup.LoadLine": "worked out; what is applied is in the trail",
    "followup.MessageStep": "written once for each try; the message is in the trail",
    "followup.Reply": "kept as it came",
    "analytics.CaseToWeigh": "what a worker still has to do",
    "analytics.Snapshot": "made anew from rows whose changes are in the trail",
    "analytics.SnapshotTable": "made anew from rows whose changes are in the trail",
    "analytics.PackFile": "made from a snapshot; asking for it is in the trail",
}


def columns(model: AnyModel) -> list[AnyField]:
    """Return the columns that the trail has to hold, the number of the row apart."""
    out = LEFT_OUT.get(model._meta.db_table, {})
    fields = model._meta.concrete_fields
    return [field for field in fields if field.column not in out and not field.primary_key]


def value(field: AnyField, n: int) -> Any:
    """Return the n-th value of its own kind that a column can take; no two are alike."""
    if field.choices and len(field.flatchoices) > 1:
        return field.flatchoices[n % len(field.flatchoices)][0]
    for kind, made in (
        (models.ForeignKey, 900_001 + n),
        (models.BooleanField, n % 2 == 1),
        (models.DecimalField, Decimal(n + 1)),
        (models.FloatField, n + 1.25),
        (models.IntegerField, n + 1),
        (models.DateTimeField, NOW + timedelta(days=n, microseconds=1000)),
        (models.DateField, TODAY + timedelta(days=n)),
        (models.TimeField, (NOW + timedelta(minutes=n)).time()),
        (models.UUIDField, UUID(int=n + 1)),
        (models.JSONField, {"said": [n, "Zoë"]}),
    ):
        if isinstance(field, kind):
            return made
    assert isinstance(field, models.CharField | models.TextField), f"{field}: give it a value here"
    return ("abc"[n] * 3)[: field.max_length or 3]


def made_of(model: AnyModel) -> models.Model:
    row = model(
        **{
            field.attname: value(field, 0)
            for field in model._meta.concrete_fields
            if not field.primary_key and not getattr(field, "generated", False)
        }
    )
    return model._base_manager.bulk_create([row])[0]


@contextmanager
def rules_lifted(model: AnyModel) -> Iterator[None]:
    """Let columns be changed one by one, whatever a table's rules say of several together."""
    with taken_back(), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            table = model._meta.db_table
            cursor.execute(
                "SELECT conname FROM pg_constraint WHERE conrelid = %s::regclass AND contype = 'c'",
                [table],
            )
            for (name,) in cursor.fetchall():
                cursor.execute(f'ALTER TABLE {table} DROP CONSTRAINT "{name}"')
            yield
            return
        cursor.execute("PRAGMA ignore_check_constraints = ON")
        try:
            yield
        finally:
            cursor.execute("PRAGMA ignore_check_constraints = OFF")


def held(row: models.Model, field: AnyField) -> Any:
    """Return what the database holds in a column now, as JSON says it."""
    meta = row._meta
    column = f'"{field.column}"'
    if connection.vendor == "sqlite" and isinstance(field, models.JSONField):
        column = f"json({column})"
    made = "json_object" if connection.vendor == "sqlite" else "jsonb_build_object"
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT {made}('is', {column}) FROM {meta.db_table} WHERE {meta.pk.column} = %s",
            [row.pk],
        )
        (found,) = cursor.fetchone()
    return (json.loads(found) if isinstance(found, str) else found)["is"]


def by_save(row: Any, field: AnyField, new: Any) -> None:
    setattr(row, field.attname, new)
    row.save(update_fields=[field.name])


def by_update(row: Any, field: AnyField, new: Any) -> None:
    type(row)._base_manager.filter(pk=row.pk).update(**{field.attname: new})


def by_bulk_update(row: Any, field: AnyField, new: Any) -> None:
    setattr(row, field.attname, new)
    type(row)._base_manager.bulk_update([row], [field.name])


def by_sql(row: Any, field: AnyField, new: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            f'UPDATE {row._meta.db_table} SET "{field.column}" = %s '
            f"WHERE {row._meta.pk.column} = %s",
            [field.get_db_prep_save(new, connection), row.pk],
        )


WAYS: dict[str, Callable[[Any, AnyField, Any], None]] = {
    "save": by_save,
    "update": by_update,
    "bulk_update": by_bulk_update,
    "sql": by_sql,
}


def newest(after: int, row: models.Model) -> AuditEntry:
    return AuditEntry.objects.get(pk__gt=after, table=row._meta.db_table, row_id=str(row.pk))


def fault_of(row: Any, field: AnyField, new: Any, way: str, by: Person) -> str:
    """Change one column in one way and say what the trail does not have of it; '' if nothing."""
    before, begun = held(row, field), trailed.last_entry()
    # Inside one transaction PostgreSQL would still know who acted last.
    with records.change(by=by, reason=f"to test {field.name}"):
        WAYS[way](row, field, new)
    after = held(row, field)
    entry = newest(begun, row)
    told = (
        entry.action,
        (entry.before or {}).get(field.column, "nothing"),
        (entry.after or {}).get(field.column, "nothing"),
        entry.person_id,
        entry.reason,
    )
    due = ("update", before, after, by.pk, f"to test {field.name}")
    return "" if before != after and told == due else f"{way} {field.column}: {told}, not {due}"


@pytest.mark.parametrize("label", MODELS)
@pytest.mark.parametrize("way", WAYS)
def test_every_column_changed_is_in_the_trail_with_old_new_and_who(label: str, way: str) -> None:
    model, by = MODELS[label], builders.person("ada")
    with rules_lifted(model):
        row = made_of(model)
        faults = []
        for field in columns(model):
            faults.append(fault_of(row, field, value(field, 1), way, by))
            if field.null:
                faults.append(fault_of(row, field, None, way, by))
        assert not any(faults), "\n".join(filter(None, faults))


@pytest.mark.parametrize("label", MODELS)
def test_a_new_row_a_new_number_and_a_removed_row_are_in_the_trail(label: str) -> None:
    model = MODELS[label]
    with rules_lifted(model):
        row = made_of(model)
        entry = newest(0, row)
        assert (entry.action, entry.before) == ("insert", None)
        for field in columns(model):
            assert (entry.after or {})[field.column] == held(row, field), field.column
        begun, was = trailed.last_entry(), row.pk
        model._base_manager.filter(pk=was).update(**{model._meta.pk.name: 999_999})
        row.pk = 999_999
        number = str(model._meta.pk.column)
        entry = newest(begun, row)
        assert ((entry.before or {})[number], (entry.after or {})[number]) == (was, 999_999)
        begun = trailed.last_entry()
        # What refers to it does not matter here, and nothing does.
        model._base_manager.filter(pk=row.pk)._raw_delete(using="default")
        entry = newest(begun, row)
        assert (entry.action, entry.after) == ("delete", None)
        assert set(entry.before or {}) == {field.column for field in columns(model)} | {number}


def test_what_the_trail_leaves_out_is_listed_with_a_reason() -> None:
    assert {table: set(out) for table, out in LEFT_OUT.items()} == {
        table: set(out) for table, out in triggers.LEFT_OUT.items()
    }
    assert all(reason for out in LEFT_OUT.values() for reason in out.values())


def test_every_clinical_table_is_watched_and_others_say_why_not() -> None:
    own = [config for config in apps.get_app_configs() if getattr(config, "is_room", False)]
    all_models = {model._meta.label: model for room in own for model in room.get_models()}
    assert set(all_models) - set(MODELS) == set(NOT_WATCHED)
    assert not [label for label in NOT_WATCHED if issubclass(all_models[label], ClinicalRow)]
