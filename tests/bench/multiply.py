"""Makes a service many times as large, by one statement a table: `multiply(times)` on PostgreSQL.

What hangs on a patient by any chain of links is copied: keys and links of each copy are shifted by a
multiple of one stride, so that a copy hangs together as its original does. What is about no patient -
sites, people, clinics, protocols, construct types, articles, notices, meetings - is shared by all copies.
A copy has a name, birth date, telephone, hospital number and key of its own; another text, identifier or time of day that has to be
alone gets the copy's number. The trail is copied as well, so that a history has something to show and the table
its true size, but its copies are sealed by nobody and tell of the original's row: `verify_trail` does not hold
afterwards, and of `verify_records` all but `trail_chain`, `trail_rows` and `film_files`. What moved rows about, as a merge, is
not copied, since it keeps keys in words, nor are lines of files.
"""

import secrets
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import connection, models, transaction
from django.db.models import Max, Model

from analytics.simulation import setting
from followup.models import ImportPair
from followup.models.messages import MessageState
from registry.models import AuditEntry, Identity, Patient, PatientMerge, RecordMove, TwoPeople
from registry.models.audit import ChainHead
from registry.models.imports import ImportRow
from registry.models.patients import KEY_LETTERS

AnyModel = type[Model]
ROOMS = ("registry", "followup", "analytics")
# They keep keys of rows in words, which no shift reaches, or are lines of a file.
LEFT = {PatientMerge, RecordMove, TwoPeople, ImportRow, ImportPair}
KEY_LENGTH = 8
MINUTES_OF_A_WEEK = 7 * 24 * 60
TEXTS = (models.CharField, models.TextField)


@dataclass(frozen=True)
class Copied:
    """A table that is copied, and how many rows it has now."""

    table: str
    rows: int


def copied_models() -> list[AnyModel]:
    """Return the models whose rows hang on a patient, by any chain of links, the patient first."""
    own = [
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.app_label in ROOMS and model not in LEFT
    ]
    found: list[AnyModel] = [Patient]
    more = True
    while more:
        further = [m for m in own if m not in found and set(_targets(m).values()) & set(found)]
        found += further
        more = bool(further)
    return found


def multiply(times: int) -> list[Copied]:
    """Make the rows about patients so many times as many as they are; return what each table has then.

    Triggers and checks of links are off meanwhile, which takes a superuser of the database; every other
    constraint holds. Nobody else may write.
    """
    tables = copied_models()
    stride = _stride(tables)
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")
        _names(cursor, times)
        for model in tables:
            cursor.execute(_statement(model, set(tables)), {"times": times, "stride": stride})
        _trail(cursor, tables, times, stride)
        # What a small service owes at once is spread over a week, as a large one's would be.
        cursor.execute(
            "UPDATE followup_message SET wanted_at = wanted_at + (id %% %s) * interval '1 minute' "
            "WHERE state = %s",
            [MINUTES_OF_A_WEEK, MessageState.WAITING],
        )
        for model in (*tables, AuditEntry):
            _go_on_from_the_highest(cursor, model)
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE")
    return [Copied(model._meta.db_table, model._base_manager.count()) for model in tables]


def tell(times: int) -> None:
    """Multiply, and print how many rows there are then."""
    rows = sum(one.rows for one in multiply(times))
    sys.stdout.write(f"{rows} rows about patients\n")


def broken_links() -> list[str]:
    """Return the links of every table that point to no row, which the database did not check meanwhile."""
    broken = []
    with connection.cursor() as cursor:
        for model in apps.get_models(include_auto_created=True):
            table = model._meta.db_table
            for column, other in _links(model):
                target = other._meta
                cursor.execute(
                    f'SELECT count(*) FROM "{table}" a WHERE a."{column}" IS NOT NULL AND NOT EXISTS '
                    f'(SELECT 1 FROM "{target.db_table}" b WHERE b."{target.pk.column}" = a."{column}")'
                )
                if cursor.fetchone()[0]:
                    broken.append(f"{table}.{column}")
    return broken


def _links(model: AnyModel) -> Iterator[tuple[str, AnyModel]]:
    for field in model._meta.concrete_fields:
        if field.is_relation:
            yield str(field.column), field.related_model


def _targets(model: AnyModel) -> dict[str, AnyModel]:
    return {name: target for name, target in _links(model) if target is not model}


def _stride(tables: list[AnyModel]) -> int:
    """Return the power of ten above every key that is copied."""
    highest = max(
        model._base_manager.aggregate(highest=Max("pk"))["highest"] or 0
        for model in (*tables, AuditEntry)
    )
    return int(10 ** len(str(highest)))


def _names(cursor: Any, times: int) -> None:
    """Put the names and the key of each copy of a patient into a table of this transaction."""
    cursor.execute(
        "CREATE TEMPORARY TABLE named (patient bigint, number int, key text, family text, given text, "
        "PRIMARY KEY (patient, number)) ON COMMIT DROP"
    )
    patients = list(Patient.everything.order_by("pk").values_list("pk", "key"))
    taken = {key for _, key in patients}
    first, last = setting.FAMILY_FIRST, setting.FAMILY_LAST
    with cursor.copy("COPY named FROM STDIN") as rows:
        for place, (patient, _) in enumerate(patients):
            for copy in range(1, times):
                at = place * 7 + copy * 13
                given = (setting.GIVEN_FEMALE, setting.GIVEN_MALE)[copy % 2]
                family = first[at % len(first)] + last[at // len(first) % len(last)]
                name = (family, given[at // 5 % len(given)])
                rows.write_row((patient, copy, _key(taken), *name))


def _key(taken: set[str]) -> str:
    while True:
        key = "".join(secrets.choice(KEY_LETTERS) for _ in range(KEY_LENGTH))
        if key not in taken:
            taken.add(key)
            return key


def _statement(model: AnyModel, copied: set[AnyModel]) -> str:
    """Return the statement that copies a table, with each column's value in a copy."""
    own = _alone(model, copied)
    fields = [field for field in model._meta.concrete_fields if not field.generated]
    columns = ", ".join(f'"{field.column}"' for field in fields)
    values = ", ".join(_value(model, field, copied, own) for field in fields)
    source = (
        f'FROM "{model._meta.db_table}" one CROSS JOIN generate_series(1, %(times)s - 1) AS copy'
    )
    if model in (Patient, Identity):
        whose = "id" if model is Patient else "patient_id"
        source += f" JOIN named ON named.patient = one.{whose} AND named.number = copy"
    return f'INSERT INTO "{model._meta.db_table}" ({columns}) SELECT {values} {source}'


def _value(model: AnyModel, field: Any, copied: set[AnyModel], own: set[str]) -> str:
    column = f'one."{field.column}"'
    if field.primary_key or (field.is_relation and field.related_model in copied):
        return f"{column} + copy * %(stride)s"
    if model is Patient and field.name == "key":
        return "named.key"
    if model is Identity and field.name in ("family_name", "given_name", "sort_name"):
        return {
            "family_name": "named.family",
            "given_name": "named.given",
            "sort_name": "lower(named.family || ' ' || named.given)",
        }[str(field.name)]
    if model is Identity and field.name in ("birth_earliest", "birth_latest"):
        return f"{column} - copy * 37 %% 3000"
    if model is Identity and field.name == "phone":
        last = "lpad((copy * 7 %% 1000)::text, 3, '0')"
        return f"CASE WHEN {column} = '' THEN '' ELSE left({column}, -3) || {last} END"
    if field.name not in own:
        return column
    if isinstance(field, models.UUIDField):
        return "gen_random_uuid()"
    if isinstance(field, models.TimeField):
        return f"{column} + copy * interval '1 second'"
    most = field.max_length or 10**6
    return f"left({column}, {most} - 1 - length(copy::text)) || '-' || copy::text"


def _alone(model: AnyModel, copied: set[AnyModel]) -> set[str]:
    """Return the columns that have to change in a copy, because a constraint wants them alone.

    A constraint over a key that is shifted holds by itself; of any other one text, identifier or time changes.
    """
    found = set()
    single = [[field.name] for field in model._meta.concrete_fields if field.unique]
    several = [
        list(one.fields)
        for one in model._meta.constraints
        if isinstance(one, models.UniqueConstraint) and one.fields
    ]
    for names in (*single, *several):
        fields = [model._meta.get_field(name) for name in names]
        if any(f.primary_key or (f.is_relation and f.related_model in copied) for f in fields):
            continue
        kinds = (models.UUIDField, models.TimeField, *TEXTS)
        free = [f for kind in kinds for f in fields if isinstance(f, kind)]
        if not free:
            raise ValueError(
                f"{model._meta.label}: nothing of {names} can tell a copy from its original"
            )
        found.add(str(free[-1].name))
    return found


def _trail(cursor: Any, tables: list[AnyModel], times: int, stride: int) -> None:
    """Copy the trail's entries about what was copied, in positions behind all that there were."""
    names = [model._meta.db_table for model in tables]
    cursor.execute(
        'INSERT INTO registry_auditentry (id, at, action, "table", row_id, before, after, person_id, reason, '
        "position, previous_hash, hash, before_digest, after_digest) "
        'SELECT one.id + copy * %(stride)s, at, action, "table", (row_id::bigint + copy * %(stride)s)::text, '
        "before, after, person_id, reason, position + copy * (SELECT position FROM registry_chainhead), "
        "previous_hash, hash, before_digest, after_digest "
        "FROM registry_auditentry one CROSS JOIN generate_series(1, %(times)s - 1) AS copy "
        'WHERE "table" = ANY(%(names)s) AND position IS NOT NULL',
        {"times": times, "stride": stride, "names": names},
    )
    ChainHead.objects.update(position=models.F("position") * times)


def _go_on_from_the_highest(cursor: Any, model: AnyModel) -> None:
    table, column = model._meta.db_table, str(model._meta.pk.column)
    cursor.execute(
        f'SELECT setval(pg_get_serial_sequence(%s, %s), max("{column}")) FROM "{table}"',
        [table, column],
    )
