"""The shipped defaults for tests: by the services the first time, as copies of those rows after that.

Most tests begin with them, and the services ask the database for each row whether it is there.
"""

import json
from copy import deepcopy
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db.models import Model

from followup.models import MessageTemplate, Protocol, ProtocolStep, ProtocolVersion
from followup.services import message_setup, protocols
from registry.models import ConstructType
from registry.services import records, setup

FIXTURES = Path(settings.BASE_DIR) / "fixtures"
# In this order; those that a row points to come before it.
MODELS: tuple[type[Model], ...] = (
    *(ConstructType, Protocol, ProtocolVersion, ProtocolStep, MessageTemplate),
)
Row = dict[str, Any]
_kept: dict[type[Model], list[tuple[int, Row]]] = {}


def load(now: datetime) -> None:
    """Load the shipped construct types, protocols and words of messages."""
    if any(model._base_manager.exists() for model in MODELS):
        _by_services(now)
    elif _kept:
        _by_copies()
    else:
        _by_services(now)
        for model in MODELS:
            _kept[model] = [(row.pk, _values(row)) for row in model._base_manager.order_by("pk")]


def _by_services(now: datetime) -> None:
    setup.load_construct_types(json.loads((FIXTURES / "construct_types.json").read_text()))
    protocols.load_protocols(json.loads((FIXTURES / "protocols.json").read_text()), now=now)
    words = json.loads((FIXTURES / "message_templates.json").read_text())
    message_setup.load_templates(words, now=now)


def _values(row: Model) -> Row:
    fields = (field for field in row._meta.concrete_fields if not field.primary_key)
    return {field.attname: getattr(row, field.attname) for field in fields}


def _by_copies() -> None:
    """Write the same rows by one statement a table; the database counts them anew."""
    keys: dict[type[Model], dict[int, int]] = {}
    with records.change(by=None, reason="shipped"):
        for model in MODELS:
            links = {
                field.attname: keys[field.related_model]
                for field in model._meta.concrete_fields
                if field.related_model in keys
            }
            rows = [model(**_linked(values, links)) for _, values in _kept[model]]
            model._base_manager.bulk_create(rows)
            keys[model] = {old: row.pk for (old, _), row in zip(_kept[model], rows, strict=True)}


def _linked(values: Row, links: dict[str, dict[int, int]]) -> Row:
    new = {name: keys[values[name]] for name, keys in links.items() if values[name] is not None}
    # What a test changes in a list of a row is its own.
    return deepcopy({**values, **new})
