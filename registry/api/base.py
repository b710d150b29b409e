"""What every API endpoint shares: paging, problem+json errors (RFC 9457), ETag and If-Match (RFC 9110)."""

from collections.abc import Collection
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404
from rest_framework import exceptions, status
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import exception_handler

from registry.errors import BadInput, HoldfastError, IllegalTransition, NotAllowed, StaleVersion
from registry.rules.typed_numbers import whole_number

WHOLE = "whole"
PROBLEM = "application/problem+json"


class Paging(PageNumberPagination):
    """Pages of 50 rows; `page_size` up to 200."""

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200


class VersionNotGiven(exceptions.APIException):
    """A write came without If-Match."""

    status_code = status.HTTP_428_PRECONDITION_REQUIRED
    default_detail = "Send If-Match with the ETag of the version that you changed."
    default_code = "version_not_given"


class VersionStale(exceptions.APIException):
    """A write came with an old version."""

    status_code = status.HTTP_412_PRECONDITION_FAILED
    default_code = "version_stale"


class Conflict(exceptions.APIException):
    """What is asked for cannot follow what is there already; `more` is told beside the detail."""

    status_code = status.HTTP_409_CONFLICT
    default_code = "conflict"

    def __init__(self, detail: str, **more: Any) -> None:
        super().__init__(detail)
        self.more = more


def etag(version: int) -> str:
    """Return the entity tag of a row's version."""
    return f'"{version}"'


def version_wanted(request: Request) -> int:
    """Read the version from If-Match.

    Raises VersionNotGiven (428) without the header and VersionStale (412) when it is not a version.
    """
    given = request.headers.get("If-Match", "").strip()
    if not given:
        raise VersionNotGiven
    number = given.removeprefix("W/").strip('"')
    version = whole_number(number)
    if version is None:
        raise VersionStale(f"If-Match is {given[:40]}; send the ETag as it was given.")
    return version


def with_etag(response: Response, version: int) -> Response:
    """Add the entity tag to an answer."""
    response["ETag"] = etag(version)
    return response


def only_known(request: Request, known: Collection[str]) -> None:
    """Refuse a part of the address that means nothing here: misspelt, it would widen the answer.

    Raises ValidationError naming each.
    """
    unknown = sorted(set(request.query_params) - set(known))
    if unknown:
        told = f"Nothing here is asked for by that; there are {', '.join(known)}."
        raise exceptions.ValidationError(dict.fromkeys(unknown, told))


def problem(fault: Exception, context: dict[str, Any]) -> Response | None:
    """Turn every refusal into application/problem+json."""
    translated = _translated(fault)
    answer = exception_handler(translated, context)
    if answer is None:
        return None
    body = body_of(answer.status_code, _detail(translated))
    if isinstance(translated, exceptions.ValidationError):
        body["faults"] = _by_field(translated.detail)
    if isinstance(translated, Conflict):
        body.update(translated.more)
    answer.data = body
    answer.content_type = PROBLEM
    return answer


def body_of(code: int, detail: str) -> dict[str, Any]:
    """Return the members that every problem has."""
    return {"type": "about:blank", "title": _title(code), "status": code, "detail": detail}


def _translated(fault: Exception) -> Exception:
    if isinstance(fault, StaleVersion):
        return VersionStale(str(fault))
    if isinstance(fault, NotAllowed | PermissionDenied):
        return exceptions.PermissionDenied(str(fault) or "Your roles do not permit this.")
    if isinstance(fault, BadInput):
        return exceptions.ValidationError(fault.faults)
    if isinstance(fault, IllegalTransition):
        return Conflict(str(fault))
    if isinstance(fault, HoldfastError):
        return exceptions.ValidationError(str(fault))
    if isinstance(fault, Http404):
        return exceptions.NotFound("There is no such thing, or it is not yours to see.")
    return fault


def _by_field(detail: Any) -> dict[str, list[Any]]:
    """Return the messages by field, those about the whole under a name of their own."""
    if not isinstance(detail, dict):
        return {WHOLE: list(detail) if isinstance(detail, list) else [detail]}
    names: dict[Any, str] = {"": WHOLE, "non_field_errors": WHOLE}
    return {
        names.get(name, str(name)): told if isinstance(told, list) else [told]
        for name, told in detail.items()
    }


def _detail(fault: Exception) -> str:
    if isinstance(fault, exceptions.ValidationError):
        return "Some values cannot be taken; see faults."
    return str(getattr(fault, "detail", fault))


def _title(code: int) -> str:
    titles = {
        400: "Bad input",
        401: "Sign in first",
        403: "Not allowed",
        404: "Not found",
        405: "Wrong method",
        406: "Not available in that form",
        409: "Not possible as things stand",
        412: "Changed by somebody else",
        415: "Send JSON",
        428: "Version missing",
        429: "Too many requests",
        500: "Our fault",
    }
    return titles.get(code, "Refused")
