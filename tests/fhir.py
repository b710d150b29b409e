"""Judging FHIR by a model library that others keep, and by the tables of required codes."""

from functools import cache
from importlib import import_module
from typing import Any

from registry.rules.fhir import value_sets


@cache
def model_of(kind: str) -> Any:
    """Return the library's class of a type: release R4B, whose shapes are those of R4 here."""
    return getattr(import_module(f"fhir.resources.R4B.{kind.lower()}"), kind)


def valid(resource: dict[str, Any]) -> dict[str, Any]:
    """Return a resource that the library takes and whose required codes are in their sets."""
    model_of(resource["resourceType"]).model_validate(resource)
    assert value_sets.faults(resource) == []
    return resource


def content_of(answer: Any) -> bytes:
    """Return what a file that is handed out holds.

    The client closes it at its end, and leaves the test's connection alone, as `close` would not.
    """
    assert answer.status_code == 200
    return b"".join(answer.streaming_content)
