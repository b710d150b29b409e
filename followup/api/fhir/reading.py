"""Reading and searching resources, and what the server says that it can do."""

from collections.abc import Iterable, Sequence
from typing import Any

from django.conf import settings
from django.http import QueryDict
from django.utils import timezone
from rest_framework.parsers import FormParser
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from followup.api.fhir.base import FhirView, base_of, prefers, versioned
from followup.exchange.fhir import search
from followup.exchange.fhir.kinds import KINDS, Kind
from registry.models.patients import Patient
from registry.rules.fhir import queries
from registry.rules.fhir.bundles import search_set
from registry.rules.fhir.capability import Offered, statement
from registry.rules.fhir.outcomes import refused
from registry.selectors import fhir_rows
from registry.services import audit

# When what the server can do last changed.
SINCE = "2026-11-30"
# By what a person is looked for; where it came in a form, no address repeats it.
OF_A_PERSON = ("name", "family", "given", "birthdate", "identifier")


class Metadata(FhirView):
    """What the server can do; it names nobody, and whoever asks is told."""

    permission_classes = [AllowAny]
    http_method_names = ["get", "head", "options"]

    def get(self, request: Request) -> Response:
        offers = [
            Offered(one.name, search.known_params(one), one.taken_in, one.note)
            for one in KINDS.values()
        ]
        offers.append(Offered(search.CODE_SYSTEM, search.CODE_SYSTEM_PARAMS, taken_in=False))
        return Response(statement(base_of(request), settings.FHIR_BASE, offers, SINCE))


class OfKind(FhirView):
    """An address of one type of resource."""

    def opens(self) -> tuple[str, ...]:
        name = self.kwargs["kind"]
        return ("use_api",) if name == search.CODE_SYSTEM else self.kind().sees

    def kind(self) -> Kind:
        """Return the type that the address names.

        Raises Refused (404) for one that is not served.
        """
        name = self.kwargs["kind"]
        if name not in KINDS:
            told = f"There is no {name} here; there are {', '.join(KINDS)}, CodeSystem."
            raise refused("not-supported", told, status=404)
        return KINDS[name]


class Search(OfKind):
    """A search by the parameters of the address."""

    http_method_names = ["get", "head", "options"]

    def get(self, request: Request, kind: str) -> Response:
        return self.found(request, request.query_params.lists())

    def found(
        self, request: Request, given: Iterable[tuple[str, Any]], *, in_form: bool = False
    ) -> Response:
        """Answer one page, and write down whose names are on it."""
        pairs = [(name, value) for name, values in given for value in values]
        strict = prefers(request, "handling=strict")
        now, name = timezone.now(), self.kwargs["kind"]
        if name == search.CODE_SYSTEM:
            query = queries.parse(pairs, search.CODE_SYSTEM_PARAMS, strict=strict)
            page = search.find_code_systems(query)
        else:
            kind = self.kind()
            query = queries.parse(pairs, search.known_params(kind), strict=strict)
            page = search.find(kind, query, fhir_rows.reader(request.user), now)
        write_down(request, page.named)
        bundle = search_set(
            base_of(request),
            name,
            query,
            page.resources,
            total=page.total,
            onward=page.onward,
            in_form=in_form,
        )
        return Response(bundle)


class SearchByForm(Search):
    """The same with the parameters in the body, where no log keeps them."""

    http_method_names = ["post", "options"]
    parser_classes = [FormParser]
    reads_by_post = True

    def post(self, request: Request, kind: str) -> Response:
        # Without a body there is no form.
        sent = list(request.data.lists()) if isinstance(request.data, QueryDict) else []
        in_form = any(name.partition(":")[0] in OF_A_PERSON for name, _ in sent)
        return self.found(request, [*request.query_params.lists(), *sent], in_form=in_form)


class Read(OfKind):
    """One resource by its id."""

    http_method_names = ["get", "head", "options"]

    def get(self, request: Request, kind: str, key: str) -> Response:
        if kind == search.CODE_SYSTEM:
            return Response(search.read_code_system(key))
        resource, named = search.read(self.kind(), key, fhir_rows.reader(request.user))
        for one in named:
            audit.record_read(by=request.user, patient=one, now=timezone.now(), page="fhir")
        return versioned(request, resource)


def write_down(request: Request, named: Sequence[Patient]) -> None:
    """Write into the trail whose names were on a page."""
    if named:
        keys = [one.key for one in named]
        audit.record_list(by=request.user, keys=keys, now=timezone.now(), page="fhir")
