"""What leaves as a table takes no more columns than are written down here, whoever takes it.

A new column of an export has to be added here too: that is the moment to ask whether it is needed, and who may
have it. Whether one of the values names a patient is another question, which `tests/test_pseudonyms.py` asks.
"""

import csv
import io
import zipfile
from collections.abc import Collection, Iterator
from contextlib import suppress
from typing import Any

import openpyxl
import pytest
from django.apps import apps
from django.core.cache import cache
from django.db import IntegrityError, transaction
from django.db.models import CharField, Model, TextField
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from analytics.services import snapshots
from registry.models.base import ClinicalRow
from tests import scene as scenes
from tests.export_columns import EMPTY, TABLES
from tests.scene import Scene, taken_back
from tests.test_access import DOORS, urls
from tests.test_pseudonyms import opened

pytestmark = pytest.mark.django_db
Columns = tuple[str, ...]
# Tables of work to be done for one patient after another, with what was noted about each.
OF_ONE_BY_ONE = ("trace", "due", "import", "export")
TAKE_NOTHING = {"no membership", "all roles until yesterday"}
WORD = "Zwetschgenwasser"
LONG, MANY = 80, 10


@pytest.fixture(scope="module")
def scene(django_db_setup: None, django_db_blocker: Any) -> Iterator[Scene]:
    yield from scenes.build(django_db_blocker)


@pytest.fixture(autouse=True)
def nobody_has_asked_too_often() -> None:
    cache.clear()


def content_of(answer: Any) -> bytes:
    """Return the whole of an answer."""
    whole: bytes = b"".join(answer.streaming_content) if answer.streaming else answer.content
    return whole


def tables(name: str, answer: Any) -> Iterator[tuple[str, Columns]]:
    """Yield each table of an answer: its name within it, and its columns."""
    content = content_of(answer)
    kind = answer.headers.get("Content-Type", "").partition(";")[0]
    if content.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            names = packed.namelist()
            if "xl/workbook.xml" in names:
                book = openpyxl.load_workbook(io.BytesIO(content), read_only=True)
                for sheet in book:
                    yield f"{name}: {sheet.title}", columns(sheet.iter_rows(values_only=True))
                return
            for one in names:
                if one.endswith(".csv"):
                    text = packed.read(one).decode("utf-8-sig")
                    yield f"{name}: {one}", columns(csv.reader(io.StringIO(text)))
    elif kind == "text/csv":
        yield name, columns(csv.reader(io.StringIO(content.decode("utf-8-sig"))))


def columns(rows: Any) -> Columns:
    """Return the first row that is neither a note on the table nor a single cell."""
    for row in rows:
        filled = tuple(str(cell) for cell in row if cell not in (None, ""))
        if len(filled) > 1 and not filled[0].startswith("#"):
            return filled
    return ()


# A page with several tables says in its address which is taken.
FURTHER = {"following-csv": ("flow", "reviews", "responses", "tipping", "lost", "silent", "rates")}


def taken(scene: Scene, client: Client, names: Collection[str]) -> dict[str, Columns]:
    """Return every table that somebody can take of the northern site at some doors."""
    found: dict[str, Columns] = {}
    for name in names:
        for address in urls(scene, name, "north"):
            with taken_back():
                found.update(tables(name, client.get(address)))
            for table in FURTHER.get(name, ()):
                with taken_back():
                    asked = f"{address}{'&' if '?' in address else '?'}table={table}"
                    found.update(tables(f"{name}: {table}", client.get(asked)))
    with taken_back():
        found.update(tables("dataset", client.post(reverse("dataset"), {"kind": "csv"})))
    return found


WRITTEN = {name: tuple(columns.split()) for names, columns in TABLES.items() for name in names}
GIVING = {name.partition(":")[0] for name in WRITTEN} & set(DOORS)


def test_every_table_that_leaves_is_written_down(scene: Scene) -> None:
    opening = [name for name, door in DOORS.items() if door.opens]
    found = taken(scene, scene.clients["all roles here, reader there"], opening)
    assert {name for name, columns in found.items() if not columns} == EMPTY
    assert {name: columns for name, columns in found.items() if columns} == WRITTEN


@pytest.mark.parametrize("visitor", scenes.VISITORS)
def test_nobody_takes_another_column(scene: Scene, visitor: str) -> None:
    found = taken(scene, scene.clients[visitor], sorted(GIVING))
    assert {
        name: columns for name, columns in found.items() if columns and WRITTEN[name] != columns
    } == {}
    assert bool(found) == (visitor not in TAKE_NOTHING)


def free_texts() -> Iterator[tuple[type[Model], str]]:
    """Yield each column of a clinical row in which somebody writes what they like."""
    for model in apps.get_models():
        for field in model._meta.concrete_fields if issubclass(model, ClinicalRow) else ():
            is_text = isinstance(field, CharField | TextField) and not field.choices
            if is_text and (field.max_length or LONG) >= LONG:
                yield model, field.name


def test_what_somebody_wrote_in_words_leaves_in_no_table_about_many(scene: Scene) -> None:
    with taken_back():
        written = set()
        for model, name in free_texts():
            with suppress(IntegrityError), transaction.atomic():
                if model._base_manager.update(**{name: WORD}):
                    written.add(f"{model.__name__}.{name}")
        assert {"Complication.action", "ContactAttempt.note"} <= written
        assert len(written) > MANY, sorted(written)
        snapshots.refresh(now=timezone.now(), today=timezone.localdate())
        client = scene.clients["quality_lead"]
        answers = [client.post(reverse("dataset"), {"kind": "csv"})]
        about_many = sorted(name for name in GIVING if not name.startswith(OF_ONE_BY_ONE))
        for name in about_many:
            answers += [client.get(address) for address in urls(scene, name, "north")]
        told = [opened(content_of(one)) for one in answers if one.status_code == 200]
    assert len(told) >= len(about_many)
    assert [text[:80] for text in told if WORD in text] == []
