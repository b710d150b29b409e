"""One row <-> one line of JSON, and a JSON Schema (draft 2020-12) that says what stands in the lines."""

import base64
import json
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import models

from registry.errors import BadInput

DRAFT = "https://json-schema.org/draft/2020-12/schema"
# What never leaves: hashes of passwords. Whoever comes back chooses a new one.
LEFT_OUT: Mapping[str, Mapping[str, Any]] = {
    "registry_person": {"password": "!", "last_login": None},
}
# What kind of value a column holds, as JSON says it; the first class that fits counts.
SHAPES: "tuple[tuple[type[models.Field[Any, Any]], dict[str, Any]], ...]" = (
    (models.BooleanField, {"type": "boolean"}),
    (models.FloatField, {"type": "number"}),
    (models.DecimalField, {"type": "string", "pattern": r"^-?\d+(\.\d+)?$"}),
    (models.DateTimeField, {"type": "string", "format": "date-time"}),
    (models.DateField, {"type": "string", "format": "date"}),
    (models.TimeField, {"type": "string", "pattern": r"^\d\d:\d\d:\d\d(\.\d+)?$"}),
    (models.UUIDField, {"type": "string", "format": "uuid"}),
    (models.BinaryField, {"type": "string", "contentEncoding": "base64"}),
    (models.JSONField, {}),
    (models.IntegerField, {"type": "integer"}),
    (models.CharField, {"type": "string"}),
    (models.TextField, {"type": "string"}),
)


def columns(model: type[models.Model]) -> "list[models.Field[Any, Any]]":
    """Return the columns of a table that an archive holds, in the order of the table.

    What the database works out by itself is not among them, nor what never leaves.
    """
    kept = LEFT_OUT.get(model._meta.db_table, {})
    return [
        field
        for field in model._meta.concrete_fields
        if field.column not in kept and not getattr(field, "generated", False)
    ]


def line(model: type[models.Model], row: Mapping[str, Any]) -> bytes:
    """Write a row, given by its columns, as one line of JSON that ends in a line feed."""
    facts = {field.column: _plain(row[field.attname]) for field in columns(model)}
    return json.dumps(facts, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def row_of(model: type[models.Model], written: bytes, where: str) -> models.Model:
    """Make a row, not saved yet, from its line.

    Raises BadInput, which names the place, for a line that is not one of this table.
    """
    try:
        facts = json.loads(written)
    except ValueError as fault:
        raise BadInput(f"{where} is not JSON: {fault}.") from fault
    wanted = {field.column: field for field in columns(model)}
    if not isinstance(facts, dict) or facts.keys() != wanted.keys():
        raise BadInput(f"{where} does not have the columns of {model._meta.db_table}.")
    try:
        values = {
            field.attname: None if facts[name] is None else _typed(field, facts[name])
            for name, field in wanted.items()
        }
    except (ValueError, TypeError, ValidationError) as fault:
        raise BadInput(f"{where} holds a value of the wrong kind: {fault}.") from fault
    return model(**values, **LEFT_OUT.get(model._meta.db_table, {}))


def schema(model: type[models.Model]) -> dict[str, Any]:
    """Describe a table: each column with its kind, its codes, its limit and what it refers to."""
    return {
        "$schema": DRAFT,
        "$id": f"{model._meta.db_table}.schema.json",
        "title": model._meta.db_table,
        "description": " ".join((model.__doc__ or "").split()),
        "type": "object",
        "additionalProperties": False,
        "required": [field.column for field in columns(model)],
        "properties": {field.column: _described(field) for field in columns(model)},
    }


def _described(field: "models.Field[Any, Any]") -> dict[str, Any]:
    told = dict(_shape(field))
    words = str(field.verbose_name)
    if field.is_relation:
        related = field.related_model._meta  # type: ignore[union-attr]
        words = f"{words}: a row of {related.db_table}"
    told["description"] = words
    if isinstance(field, models.CharField) and field.max_length and told.get("type") == "string":
        told["maxLength"] = field.max_length
    if field.choices:
        codes = [code for code, _ in field.flatchoices]
        if field.blank and "" not in codes:
            codes.append("")
        told["enum"] = [*codes, None] if field.null else codes
        told["$comment"] = "; ".join(f"{code}: {label}" for code, label in field.flatchoices)
    if field.null and "type" in told:
        told["type"] = [told["type"], "null"]
    return told


def _shape(field: "models.Field[Any, Any]") -> dict[str, Any]:
    target: Any = field
    while target.is_relation:
        target = target.target_field
    return next((shape for kind, shape in SHAPES if isinstance(target, kind)), {})


def _typed(field: "models.Field[Any, Any]", value: Any) -> Any:
    if isinstance(field, models.BinaryField):
        return base64.b64decode(value, validate=True)
    if isinstance(field, models.DateTimeField):
        return datetime.fromisoformat(value)
    return field.to_python(value)


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, bytes | memoryview):
        return base64.b64encode(bytes(value)).decode()
    if isinstance(value, dict):
        # PostgreSQL keeps the keys of JSON in an order of its own.
        return {key: _plain(value[key]) for key in sorted(value)}
    return [_plain(one) for one in value] if isinstance(value, list) else value
