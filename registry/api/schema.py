"""The description of the interface in OpenAPI: versions on write, and one shape for every refusal."""

from typing import Any

from drf_spectacular.contrib.knox_auth_token import KnoxTokenScheme
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter


class ScopedTokenScheme(KnoxTokenScheme):  # type: ignore[no-untyped-call]  # registers itself
    """Describes our tokens as those that they are made of."""

    target_class = "registry.api.scopes.ScopedToken"


PROBLEM = {
    "type": "object",
    "description": "A refusal (RFC 9457).",
    "properties": {
        "type": {"type": "string", "format": "uri-reference"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "faults": {
            "type": "object",
            "description": "Messages by field; those about the whole stand under 'whole'.",
            "additionalProperties": {"type": "array", "items": {}},
        },
    },
    "required": ["type", "title", "status", "detail"],
}
ALWAYS = {
    "401": "Sign in first.",
    "403": "Not allowed.",
    "406": "Not to be had in a kind that Accept names.",
    "429": "Too many requests.",
}
ON_WRITE = {
    "400": "Values that cannot be taken.",
    "409": "Not possible as things stand.",
    "415": "Content of a kind that is not taken here.",
}
# RFC 3339 knows a time of day only with its offset from UTC; ours are local to the site.
LOCAL_TIME = {
    "type": "string",
    "pattern": r"^\d\d:\d\d(:\d\d)?$",
    "description": "Local time of day.",
}
ON_VERSION = {"412": "Changed by somebody else.", "428": "If-Match is missing."}
IF_MATCH = OpenApiParameter(
    "If-Match",
    OpenApiTypes.STR,
    OpenApiParameter.HEADER,
    required=True,
    description="The ETag of the version that you changed.",
)


class Schema(AutoSchema):
    """Asks for If-Match wherever an act changes a row that is there."""

    def get_override_parameters(self) -> list[Any]:
        versioned: frozenset[str] = getattr(self.view, "versioned", frozenset())
        return [IF_MATCH] if getattr(self.view, "action", None) in versioned else []


def with_problems(
    result: dict[str, Any], generator: Any, request: Any, public: bool
) -> dict[str, Any]:
    """Describe the refusals of every operation."""
    if not result.get("paths"):
        return result
    schemas = result.setdefault("components", {}).setdefault("schemas", {})
    for shape in schemas.values():
        for name, told in shape.get("properties", {}).items():
            if told.get("format") == "time":
                shape["properties"][name] = {**LOCAL_TIME, **_kept(told)}
    schemas["Problem"] = PROBLEM
    for path, methods in result["paths"].items():
        for method, operation in methods.items():
            for code, told in _refusals(path, method, operation).items():
                operation["responses"].setdefault(code, _answer(told))
    return result


def _refusals(path: str, method: str, operation: dict[str, Any]) -> dict[str, str]:
    refusals = dict(ALWAYS)
    if "{" in path:
        refusals["404"] = "There is no such thing, or it is not yours to see."
    elif "page" in _names(operation):
        refusals["404"] = "There is no such page."
    if any(one["in"] == "query" for one in operation.get("parameters", [])):
        refusals["400"] = ON_WRITE["400"]
    if method != "get":
        refusals |= ON_WRITE
    if "If-Match" in _names(operation):
        refusals |= ON_VERSION
    return dict(sorted(refusals.items()))


def _kept(told: dict[str, Any]) -> dict[str, Any]:
    return {word: told[word] for word in ("readOnly", "nullable", "title") if word in told}


def _names(operation: dict[str, Any]) -> set[str]:
    return {parameter["name"] for parameter in operation.get("parameters", [])}


def _answer(told: str) -> dict[str, Any]:
    shape = {"schema": {"$ref": "#/components/schemas/Problem"}}
    return {"description": told, "content": {"application/problem+json": shape}}
