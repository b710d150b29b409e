"""What every FHIR address shares: its content type, its refusals, who may come in, entity tags."""

from collections.abc import Iterable
from typing import Any

from django.http import Http404
from django.utils.http import http_date
from rest_framework import exceptions
from rest_framework.parsers import JSONParser
from rest_framework.permissions import BasePermission, IsAuthenticated
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView, exception_handler

from registry.api.resources import NotKept
from registry.errors import BadInput, HoldfastError, NotAllowed, StaleVersion
from registry.rules.fhir.bundles import etag
from registry.rules.fhir.elements import Json
from registry.rules.fhir.moments import read_moment
from registry.rules.fhir.outcomes import Refused, error, outcome
from registry.selectors import visible

CONTENT = "application/fhir+json"
ROOT = "/fhir/r4"
# Of a refusal by HTTP: which issue type of R4 says the same.
ISSUE_TYPES = {
    400: "invalid",
    401: "login",
    403: "forbidden",
    404: "not-found",
    405: "not-supported",
    406: "not-supported",
    409: "conflict",
    412: "conflict",
    415: "not-supported",
    429: "throttled",
}


class FhirRenderer(JSONRenderer):
    """FHIR's JSON."""

    media_type = CONTENT
    format = "json"
    charset = None


class PlainRenderer(FhirRenderer):
    """The same for who asks for any JSON; it says that it is FHIR's."""

    media_type = "application/json"


class FhirParser(JSONParser):
    """FHIR's JSON as it is sent."""

    media_type = CONTENT


class Opens(BasePermission):
    """Opens an address to those who may use the interface and hold one of its rights anywhere."""

    def has_permission(self, request: Request, view: Any) -> bool:
        visible.require(request.user, "use_api")
        may(request, view.opens())
        return True


class FhirView(NotKept, APIView):
    """One address of the interface; `rights` are those of which one opens it."""

    schema = None
    versioning_class = None
    renderer_classes = [FhirRenderer, PlainRenderer]
    parser_classes = [FhirParser, JSONParser]
    permission_classes = [IsAuthenticated, Opens]
    rights: tuple[str, ...] = ()

    def opens(self) -> tuple[str, ...]:
        """Return the rights of which one opens the address."""
        return self.rights

    def get_exception_handler(self) -> Any:
        return refusal

    def finalize_response(self, *args: Any, **kwargs: Any) -> Response:
        answer: Response = super().finalize_response(*args, **kwargs)
        if hasattr(answer, "data") and answer.data is not None:
            answer["Content-Type"] = f"{CONTENT}; charset=utf-8"
            answer.content_type = f"{CONTENT}; charset=utf-8"
        return answer


class Unknown(FhirView):
    """Answers for addresses that do not exist in the interface's own way."""

    permission_classes = [IsAuthenticated]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        raise exceptions.NotFound(
            f"There is no such address; {ROOT}/metadata tells those there are."
        )


def may(request: Request, rights: Iterable[str]) -> None:
    """Refuse who holds none of some rights at any site.

    Raises NotAllowed.
    """
    if not any(visible.may(request.user, one) for one in rights):
        raise NotAllowed("Your roles do not permit this. Ask your administrator if they should.")


def refusal(fault: Exception, context: dict[str, Any]) -> Response | None:
    """Turn every refusal into an OperationOutcome."""
    if isinstance(fault, Refused):
        return Response(outcome(fault.issues), status=fault.status)
    translated = _translated(fault)
    answer = exception_handler(translated, context)
    if answer is None:
        return None
    code = ISSUE_TYPES.get(answer.status_code, "processing")
    answer.data = outcome([error(code, str(getattr(translated, "detail", translated)))])
    return answer


def versioned(request: Request, resource: Json) -> Response:
    """Answer with one resource and its tag, or say that the reader has this version already."""
    tag = etag(resource["meta"]["versionId"])
    changed = read_moment(resource["meta"]["lastUpdated"])
    if tag in [one.strip() for one in request.headers.get("If-None-Match", "").split(",")]:
        answer = Response(status=304)
    else:
        answer = Response(resource)
    answer["ETag"] = tag
    answer["Last-Modified"] = http_date(changed.timestamp())
    return answer


def base_of(request: Request) -> str:
    """Return the address of this server, which all of its addresses begin with."""
    return request.build_absolute_uri(ROOT)


def prefers(request: Request, wish: str) -> bool:
    """Say whether a request prefers something, such as 'handling=strict'."""
    given = request.headers.get("Prefer", "").replace(";", ",")
    return wish in [one.strip() for one in given.split(",")]


def _translated(fault: Exception) -> Exception:
    if isinstance(fault, NotAllowed):
        return exceptions.PermissionDenied(str(fault))
    if isinstance(fault, StaleVersion):
        refused = exceptions.APIException(str(fault))
        refused.status_code = 412
        return refused
    if isinstance(fault, BadInput | HoldfastError):
        return exceptions.ParseError(str(fault))
    if isinstance(fault, Http404):
        return exceptions.NotFound("There is no such thing, or it is not yours to see.")
    return fault
