"""The OpenAPI description of the interface, and the same in the shape of a page for people."""

import json
from dataclasses import dataclass
from functools import cache
from typing import Any

from drf_spectacular.generators import SchemaGenerator


@dataclass(frozen=True)
class Field:
    """One value that is sent or answered, in words."""

    name: str
    kind: str
    needed: bool
    told: str
    codes: tuple[str, ...]


@dataclass(frozen=True)
class Operation:
    """One thing that can be asked of one address."""

    method: str
    path: str
    told: str
    parameters: tuple[Field, ...]
    sent: tuple[Field, ...]
    answered: tuple[Field, ...]
    refusals: tuple[tuple[str, str], ...]
    opens: bool


@dataclass(frozen=True)
class Group:
    """The operations of one resource."""

    name: str
    operations: tuple[Operation, ...]


@cache
def description() -> dict[str, Any]:
    """Return the OpenAPI description of version 1; it changes only with the code."""
    generator: Any = SchemaGenerator
    described: dict[str, Any] = generator(api_version="v1").get_schema(public=True)
    return described


def as_text() -> str:
    """Return the description as a file that tools read."""
    return json.dumps(description(), ensure_ascii=False, indent=1)


@cache
def groups() -> tuple[Group, ...]:
    """Return the operations of every resource, in the order of their addresses."""
    found: dict[str, list[Operation]] = {}
    for path, methods in description()["paths"].items():
        for method, described in methods.items():
            name = described["tags"][0].replace("-", " ")
            found.setdefault(name, []).append(_operation(path, method, described))
    return tuple(Group(name, tuple(operations)) for name, operations in found.items())


def _operation(path: str, method: str, described: dict[str, Any]) -> Operation:
    answers = described["responses"]
    good = next(answer for code, answer in answers.items() if code.startswith("2"))
    return Operation(
        method=method.upper(),
        path=path,
        told=described.get("description", ""),
        parameters=tuple(
            _field(
                one["name"],
                {**one["schema"], "description": one.get("description", "")},
                needed=one.get("required", False),
            )
            for one in described.get("parameters", [])
        ),
        sent=_fields(described.get("requestBody"), left_out="readOnly"),
        answered=_fields(good, left_out="writeOnly"),
        refusals=tuple(
            (code, answer["description"])
            for code, answer in answers.items()
            if not code.startswith("2")
        ),
        opens=method == "get" and "{" not in path,
    )


def _fields(content: dict[str, Any] | None, *, left_out: str) -> tuple[Field, ...]:
    shape = _shape((content or {}).get("content", {}).get("application/json", {}).get("schema", {}))
    rows = shape.get("properties", {}).get("results")
    if rows is not None:
        shape = _shape(rows["items"])
    # That a field is always answered is nothing that a reader has to see to.
    needed = set(shape.get("required", [])) if left_out == "readOnly" else set()
    return tuple(
        _field(name, one, needed=name in needed)
        for name, one in shape.get("properties", {}).items()
        if not one.get(left_out)
    )


def _field(name: str, described: dict[str, Any], *, needed: bool) -> Field:
    shape = _shape(described)
    kind = str(shape.get("format") or shape.get("type") or "")
    if shape.get("type") == "array":
        inner = _shape(shape["items"])
        kind = f"list of {inner.get('format') or inner.get('type', 'values')}"
    codes = [str(code) for code in shape.get("enum", []) if code not in (None, "")]
    told = described.get("description", "")
    return Field(name, kind, needed, "" if told.startswith("*") else told, tuple(codes))


def _shape(described: dict[str, Any]) -> dict[str, Any]:
    """Follow the references of a description to the shape that they name."""
    for several in ("allOf", "oneOf"):
        if several in described:
            return _shape(described[several][0])
    name = described.get("$ref", "").rpartition("/")[2]
    if not name:
        return described
    found: dict[str, Any] = description()["components"]["schemas"][name]
    return found
