"""Whether a resource that came has the shapes of R4, with words for what is of another release."""

from collections.abc import Sequence
from functools import cache
from importlib import import_module
from typing import Any

from registry.rules.fhir import value_sets
from registry.rules.fhir.elements import Json
from registry.rules.fhir.outcomes import Issue, error

TAKEN_IN = ("Patient", "Condition", "Procedure", "Device")
# What has these is of R5; what R4 calls the same. HL7 FHIR R4 and R5, from memory.
OF_R5: dict[str, dict[str, str]] = {
    "Condition": {"participant": "recorder and asserter"},
    "Procedure": {
        "occurrenceDateTime": "performedDateTime",
        "occurrencePeriod": "performedPeriod",
        "reason": "reasonReference",
        "used": "usedReference and usedCode",
        "recorded": "nothing of the kind",
        "reportedBoolean": "nothing of the kind",
        "focus": "nothing of the kind",
    },
    "Device": {
        "displayName": "deviceName",
        "name": "deviceName",
        "category": "type",
        "conformsTo": "specialization",
        "biologicalSourceEvent": "nothing of the kind",
        "mode": "nothing of the kind",
    },
}
KINDS_OF_R5 = {"DeviceUsage": "DeviceUseStatement", "DeviceAssociation": "Device.patient"}
WRONG_FORM = ("json_invalid", "json_type", "dict_type", "model_type")


def faults(resource: Json, path: str) -> list[Issue]:
    """Return what is wrong with the shape and the required codes of a resource, each with its place."""
    kind = str(resource.get("resourceType", ""))
    if kind in KINDS_OF_R5:
        told = f"This is R5: {kind}; R4 has {KINDS_OF_R5[kind]}."
        return [error("not-supported", told, f"{path}.resourceType")]
    newer = _newer(kind, resource, path)
    if newer:
        return newer
    model = _model(kind)
    if model is None:
        return [error("not-supported", f"R4 has no resource '{kind}'.", f"{path}.resourceType")]
    found = _shape(model, resource, path)
    found += [
        error("code-invalid", words, f"{path}.{where.partition('.')[2]}")
        for where, words in value_sets.faults(resource)
    ]
    if kind not in TAKEN_IN:
        told = f"A {kind} is not taken in here; there are {', '.join(TAKEN_IN)}."
        found.append(error("not-supported", told, f"{path}.resourceType"))
    return found


def _newer(kind: str, resource: Json, path: str) -> list[Issue]:
    found = [
        error("structure", f"This is R5: {kind}.{name}; R4 has {instead}.", f"{path}.{name}")
        for name, instead in OF_R5.get(kind, {}).items()
        if name in resource
    ]
    if kind == "Device" and isinstance(resource.get("type"), list):
        told = "This is R5: several types; R4 has one Device.type."
        found.append(error("structure", told, f"{path}.type"))
    return found


def _shape(model: Any, resource: Json, path: str) -> list[Issue]:
    # The library comes with its own pydantic; both are loaded when the first resource arrives.
    validation_error = import_module("pydantic").ValidationError
    try:
        model.model_validate(resource)
    except validation_error as fault:
        return [error("structure", _words(one), _where(path, one["loc"])) for one in fault.errors()]
    except (ValueError, TypeError) as fault:
        return [error("structure", str(fault).splitlines()[0], path)]
    return []


def _words(one: Any) -> str:
    if one["type"] == "extra_forbidden":
        return "R4 has no such element here."
    if one["type"] in WRONG_FORM:
        return "This has not the form that R4 gives it; a concept or reference is an object."
    return str(one["msg"]).removeprefix("Value error, ")


def _where(path: str, places: Sequence[Any]) -> str:
    for one in places:
        path += f"[{one}]" if isinstance(one, int) else f".{one}"
    return path


@cache
def _model(kind: str) -> Any:
    """Return the library's class of a type, None where it has none."""
    if not (kind.isascii() and kind.isalpha()):
        return None
    try:
        return getattr(import_module(f"fhir.resources.R4B.{kind.lower()}"), kind, None)
    except ModuleNotFoundError:
        return None
