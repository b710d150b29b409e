"""Examples in the description of the interface: one invented story, told call by call.

Each call of `fixtures/interface_examples.json` names its operation, what is sent, with which file if any,
and what was answered; `by` says that somebody else than a person sends it.
'@patient' in it stands for what an earlier answer was called there, which `keeps` says.
"""

import json
from collections.abc import Mapping
from functools import cache
from typing import Any

from django.conf import settings

FIXTURE = "interface_examples.json"


@cache
def story() -> tuple[dict[str, Any], ...]:
    """Return the calls in their order."""
    return tuple(json.loads((settings.BASE_DIR / "fixtures" / FIXTURE).read_text()))


def named(value: Any, kept: Mapping[str, Any]) -> Any:
    """Put what earlier answers were called in place of '@patient' and its like."""
    if isinstance(value, dict):
        return {name: named(inner, kept) for name, inner in value.items()}
    if isinstance(value, list):
        return [named(inner, kept) for inner in value]
    return kept[value[1:]] if isinstance(value, str) and value.startswith("@") else value


def kept_of(call: Mapping[str, Any], answer: Any) -> dict[str, Any]:
    """Return what of an answer later calls name."""
    found = {}
    for name, way in call.get("keeps", {}).items():
        inner = answer
        for step in way:
            inner = inner[step]
        found[name] = inner
    return found


def with_examples(
    result: dict[str, Any], generator: Any, request: Any, public: bool
) -> dict[str, Any]:
    """Show in the description what is sent to an operation and what it answers."""
    operations = {
        operation["operationId"]: operation
        for methods in result.get("paths", {}).values()
        for operation in methods.values()
    }
    kept: dict[str, Any] = {}
    for call in story():
        operation = operations.get(call["operation"])
        if operation is not None:
            if "sent" in call:
                _show(operation["requestBody"], _with_file(call, named(call["sent"], kept)))
            good = next(code for code in operation["responses"] if code.startswith("2"))
            if call["answer"] is not None:
                _show(operation["responses"][good], call["answer"])
        kept |= kept_of(call, call["answer"])
    return result


def _with_file(call: Mapping[str, Any], sent: Any) -> Any:
    return {**sent, "file": call["file"]} if "file" in call else sent


def _show(described: dict[str, Any], value: Any) -> None:
    # What is uploaded goes as a form, all else as JSON.
    for kind in ("multipart/form-data", "application/json"):
        if kind in described["content"]:
            described["content"][kind]["examples"] = {"Example": {"value": value}}
            break
