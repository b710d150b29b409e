"""Taking in a transaction: its answer says of each entry where it is now."""

from collections.abc import Sequence
from http import HTTPStatus
from typing import Any

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from followup.api.fhir.base import FhirView, base_of
from registry.exchange.fhir import standing
from registry.models.people import Person
from registry.rules.fhir.bundles import etag
from registry.rules.fhir.elements import Json, compact
from registry.rules.fhir.outcomes import outcome, refused
from registry.services import fhir_intake
from registry.services.fhir_intake import Landed

MOST_BYTES = 5_000_000


class Transaction(FhirView):
    """The address of the server itself, to which a transaction is sent."""

    http_method_names = ["post", "options"]
    rights = ("enrol",)

    def post(self, request: Request) -> Response:
        length = request.headers.get("Content-Length", "0")
        if not length.isdigit() or int(length) > MOST_BYTES:
            told = f"Send at most {MOST_BYTES:,} bytes at once."
            raise refused("too-costly", told, "Bundle", status=413)
        base = base_of(request)
        landed = fhir_intake.take_in(
            request.data,
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
            base=base,
        )
        return Response(response(landed, request.user, base))


def response(landed: Sequence[Landed], by: Person, base: str) -> Json:
    """Return the answer to a transaction: an entry for each that came, in its order."""
    entries = []
    for one in landed:
        made: Any = standing.resource_of(one.entry.kind, one.row, by)
        status = HTTPStatus.CREATED if one.created else HTTPStatus.OK
        version = made["meta"]["versionId"]
        entries.append(
            {
                "fullUrl": f"{base}/{one.entry.kind}/{made['id']}",
                "response": compact(
                    {
                        "status": f"{status.value} {status.phrase}",
                        "location": f"{one.entry.kind}/{made['id']}/_history/{version}",
                        "etag": etag(version),
                        "lastModified": made["meta"]["lastUpdated"],
                        "outcome": outcome(one.entry.warnings) if one.entry.warnings else {},
                    }
                ),
            }
        )
    return compact({"resourceType": "Bundle", "type": "transaction-response", "entry": entries})
