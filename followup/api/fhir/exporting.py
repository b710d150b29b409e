"""Asking for everything at once: the Bulk Data pattern, with a worker and a status to ask after."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, ClassVar

from django.http import FileResponse, Http404
from django.utils import timezone
from django.utils.http import http_date
from rest_framework.authentication import SessionAuthentication
from rest_framework.request import Request
from rest_framework.response import Response

from followup.api.fhir.base import FhirRenderer, FhirView, base_of, prefers
from followup.exchange.fhir.kinds import KINDS
from followup.exchange.fhir.search import CODE_SYSTEM
from followup.models.bulk_exports import BulkExport, ExportState
from followup.services import bulk_exports as service
from followup.tasks import bulk_exports as tasks
from registry.rules.fhir.moments import instant, read_moment
from registry.rules.fhir.outcomes import Issue, Refused, error, outcome, refused
from registry.selectors.visible import require
from registry.views.step_up import is_confirmed

NDJSON = "application/fhir+ndjson"
FORMATS = (NDJSON, "application/ndjson", "ndjson")
KNOWN = ("_type", "_since", "_outputFormat")
ASK_AGAIN_SECONDS = "5"


class NdjsonRenderer(FhirRenderer):
    """Lets a program ask for a file by its own type; a refusal of it is still an outcome."""

    media_type = NDJSON
    format = "ndjson"


class TakingView(FhirView):
    """An address for those who may take data away."""

    rights = ("take_data",)

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        if getattr(request.user, "only_sites", None) is not None:
            raise Refused(
                [error("forbidden", "A copy is of all your sites; this token is for some alone.")],
                403,
            )
        by_browser = isinstance(request.successful_authenticator, SessionAuthentication)
        if by_browser and not is_confirmed(request._request):
            raise Refused(
                [
                    error(
                        "forbidden",
                        "Confirm in the browser who you are first; a token asks for none.",
                    )
                ],
                403,
            )

    def export(self, request: Request, uuid: Any) -> BulkExport:
        """Return the copy that the address names; 404 for anybody but whoever asked for it."""
        export = service.of_asker(uuid=uuid, by=request.user)
        if export is None:
            raise Http404
        return export


class KickOff(TakingView):
    """Asks for a copy of everything that may be taken, or of what belongs to patients."""

    http_method_names = ["get", "post", "options"]
    types: ClassVar[Sequence[str]] = (*KINDS, CODE_SYSTEM)

    def get(self, request: Request) -> Response:
        return self.ask(request, list(request.query_params.items()))

    def post(self, request: Request) -> Response:
        given: list[Any] = list(request.query_params.items())
        return self.ask(request, [*given, *parameters(request.data)])

    def ask(self, request: Request, given: Sequence[tuple[str, str]]) -> Response:
        """Note what is wanted and say where to ask after it."""
        if not prefers(request, "respond-async"):
            raise refused("required", "Send Prefer: respond-async; a copy takes a while.")
        strict = prefers(request, "handling=strict")
        types, since = wanted(given, self.types, strict=strict)
        try:
            export = service.ask(
                types=types,
                since=since,
                request=request.build_absolute_uri(),
                by=request.user,
                now=timezone.now(),
            )
        except service.TooMany as fault:
            raise Refused([error("throttled", str(fault))], 429) from fault
        tasks.make.delay_on_commit()
        told = Issue(
            "information", "informational", "Asked for; ask after it where Content-Location says."
        )
        answer = Response(outcome([told]), status=202)
        answer["Content-Location"] = f"{base_of(request)}/$export-status/{export.uuid}"
        return answer


class PatientKickOff(KickOff):
    """The same of what belongs to patients, which is all but the code systems."""

    types = tuple(KINDS)


class Status(TakingView):
    """How far a copy is, and when it is ready where its files are; deleting it cancels it."""

    http_method_names = ["get", "head", "delete", "options"]

    def get(self, request: Request, uuid: Any) -> Response:
        export = self.export(request, uuid)
        if export.state == ExportState.FAILED:
            return Response(outcome([Issue("fatal", "exception", export.fault)]), status=500)
        if export.state != ExportState.READY:
            answer = Response(status=202)
            done = export.files.filter(is_error=False).count()
            answer["X-Progress"] = (
                f"{done} of {len(export.types)} types, {export.resources_done} of the present one"
            )
            answer["Retry-After"] = ASK_AGAIN_SECONDS
            return answer
        answer = Response(manifest(export, base_of(request)))
        answer["Expires"] = http_date(export.expires_at.timestamp())
        return answer

    def delete(self, request: Request, uuid: Any) -> Response:
        service.cancel(export=self.export(request, uuid))
        return Response(outcome([Issue("information", "informational", "Cancelled.")]), status=202)


class ExportFile(TakingView):
    """One file of a copy, a resource on each line."""

    http_method_names = ["get", "options"]
    renderer_classes = [NdjsonRenderer, *FhirView.renderer_classes]

    def get(self, request: Request, uuid: Any, kind: str, errors: str = "") -> Any:
        require(request.user, "take_data")
        content = service.open_file(
            export=self.export(request, uuid),
            kind=kind,
            is_error=bool(errors),
            by=request.user,
            now=timezone.now(),
        )
        if content is None:
            raise Http404
        return FileResponse(content, content_type=NDJSON)


def manifest(export: BulkExport, base: str) -> dict[str, Any]:
    """Return where the files of a copy are; each needs the person's token."""
    files = [
        (
            one.is_error,
            {
                "type": "OperationOutcome" if one.is_error else one.kind,
                "url": f"{base}/$export-file/{export.uuid}/{one.kind}"
                f"{'-errors' if one.is_error else ''}.ndjson",
                "count": one.resources,
            },
        )
        for one in export.files.all()
        if one.resources
    ]
    return {
        "transactionTime": instant(export.asked_at),
        "request": export.request,
        "requiresAccessToken": True,
        "output": [told for is_error, told in files if not is_error],
        "error": [told for is_error, told in files if is_error],
    }


def parameters(sent: Any) -> list[tuple[str, str]]:
    """Read a Parameters resource.

    Raises Refused for anything else.
    """
    if sent in (None, "", {}):
        return []
    if not isinstance(sent, Mapping) or sent.get("resourceType") != "Parameters":
        raise refused("structure", "Send a Parameters resource, or nothing.")
    listed = sent.get("parameter", [])
    if not isinstance(listed, list):
        raise refused("structure", "The parameters are a list.", "Parameters.parameter")
    found = []
    for place, one in enumerate(listed):
        if not isinstance(one, Mapping):
            where = f"Parameters.parameter[{place}]"
            raise refused("structure", "A parameter is an object with its name and value.", where)
        values = [value for name, value in one.items() if name.startswith("value")]
        if len(values) != 1:
            raise refused("value", "This needs one value.", f"Parameters.parameter[{place}]")
        found.append((str(one.get("name", "")), str(values[0])))
    return found


def wanted(
    given: Iterable[tuple[str, str]], types: Sequence[str], *, strict: bool
) -> tuple[list[str], datetime | None]:
    """Read which types are wanted, and what changed since when.

    Raises Refused; strict, for what is not known as well.
    """
    asked: list[str] = []
    since: datetime | None = None
    faults = []
    for name, value in given:
        if name == "_type":
            asked += [one for one in value.split(",") if one]
        elif name == "_since":
            since = _moment(value)
        elif name == "_outputFormat" and value not in FORMATS:
            faults.append(error("value", f"Only {NDJSON} is made.", name))
        elif name not in KNOWN and strict:
            words = f"There is no parameter '{name}'; there are {', '.join(KNOWN)}."
            faults.append(error("not-supported", words, name))
    foreign = [one for one in asked if one not in types]
    if foreign and (strict or len(foreign) == len(asked)):
        told = f"There is no {', '.join(foreign)} to be had; there are {', '.join(types)}."
        faults.append(error("not-supported", told, "_type"))
    if faults:
        raise Refused(faults)
    return [one for one in types if not asked or one in asked], since


def _moment(text: str) -> datetime:
    try:
        return read_moment(text)
    except ValueError as fault:
        raise refused("value", str(fault), "_since") from fault
