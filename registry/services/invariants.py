"""What must hold of everything that is recorded: rules with a name and a sentence, each looked through.

A rule only reads. What breaks it is told by table and key, never by a name or a finding.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from typing import Any

from django.apps import apps
from django.db import connection
from django.db.models import Model, QuerySet

AT_ONCE = 2000


class Files(Enum):
    """How many of the kept files are read through: all, none, or those whose turn it is today."""

    ALL = "all"
    SHARE = "share"
    NONE = "none"


@dataclass(frozen=True)
class Looking:
    """At which moment the rules are looked through, and how many of the files are read whole."""

    now: datetime
    files: Files = Files.ALL


@dataclass(frozen=True)
class Breach:
    """One place at which a rule does not hold: the row, and in what way."""

    where: str
    what: str


@dataclass(frozen=True)
class Invariant:
    """One rule: its name, what it says, and the search for what breaks it."""

    name: str
    sentence: str
    breaches: Callable[[Looking], Iterator[Breach]]


def broken_by(rows: "QuerySet[Any]", what: str) -> Iterator[Breach]:
    """Yield a breach for each row of a queryset, streamed by key."""
    table = rows.model._meta.db_table
    keys = rows.order_by("pk").values_list("pk", flat=True)
    for key in keys.iterator(chunk_size=AT_ONCE):
        yield Breach(f"{table} {key}", what)


def asked(query: str, given: Sequence[Any] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield what a query of our own finds, some rows at a time.

    The breaches of a rule are few, so that what is found fits into memory on either database.
    """
    with connection.cursor() as cursor:
        cursor.execute(query, given)
        while rows := cursor.fetchmany(AT_ONCE):
            yield from rows


def room_models() -> list[type[Model]]:
    """Return the models of the service's rooms, links between two of them included."""
    own = [config for config in apps.get_app_configs() if getattr(config, "is_room", False)]
    return [model for config in own for model in config.get_models(include_auto_created=True)]
