from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from registry.api.base import Conflict, with_etag
from registry.api.filters import RowFilter
from registry.api.identities import EnrolSerializer, IdentitySerializer
from registry.api.resources import Resource
from registry.api.rows import ROW, RowSerializer
from registry.api.voiding import Voidable
from registry.models.patients import Patient, PatientSite, PatientStatus
from registry.selectors.patients import candidates
from registry.selectors.visible import visible
from registry.services import audit, enrolment
from registry.services import patients as service


class PatientSerializer(RowSerializer):
    """A patient as the clinical facts know them: a key and a state, no name."""

    status_note = serializers.CharField(
        max_length=300, required=False, allow_blank=True, help_text="How the state is known."
    )
    columns = ("status", "status_on", "status_note")

    class Meta:
        model = Patient
        fields = ("key", *ROW[1:], "status", "status_on", "status_note")
        read_only_fields = ("key", "version", "recorded_at", "changed_at")


class PatientFilter(RowFilter):
    site = filters.CharFilter(method="at_site", help_text="code of a site of one's own")
    status = filters.ChoiceFilter(choices=PatientStatus.choices)

    class Meta:
        model = Patient
        fields: tuple[str, ...] = ()

    def at_site(self, rows: QuerySet[Patient], name: str, code: str) -> QuerySet[Patient]:
        """Keep the patients of a site; where else somebody is treated is not told by leaving them in."""
        here = visible(self.request.user, PatientSite).filter(site__code=code)
        return rows.filter(pk__in=here.values("patient_id"))


class Patients(Voidable, Resource):
    """Patients by key. Names are a resource of their own, for those who may see them."""

    model = Patient
    serializer_class = PatientSerializer
    filterset_class = PatientFilter
    lookup_field = "key"
    lookup_value_converter = "str"
    rights = {
        "create": "enrol",
        "partial_update": "correct",
        "identity": "see_identity",
        "correct_identity": "correct",
        "void": "correct",
    }
    versioned = frozenset({"partial_update", "correct_identity", "void"})
    renamed = {"note": "status_note", "birth_date": "birth_earliest", "identifier": "identifiers"}

    def get_queryset(self) -> Any:
        # An erased patient has no names left, and is opened by nobody.
        return super().get_queryset().filter(identity__isnull=False)

    @extend_schema(request=EnrolSerializer, responses={201: PatientSerializer})
    def create(self, request: Request) -> Response:
        """Enrol a patient. Somebody alike who is here already is answered with 409 and the keys."""
        sent = EnrolSerializer(data=request.data, context=self.get_serializer_context())
        sent.is_valid(raise_exception=True)
        others = sent.validated_data.get("different_from", [])
        self._somebody_new(sent, {other.key for other in others})
        row = enrolment.enrol_patient(
            site=sent.validated_data["site"],
            identity=sent.validated_data["identity"],
            identifiers=sent.numbers(),
            consents=sent.decisions(),
            different_from=others,
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row, 201)

    def _somebody_new(self, sent: EnrolSerializer, others: set[str]) -> None:
        numbers = [given.value for given in sent.numbers()]
        found = candidates(self.request.user, sent.as_person(), numbers)
        alike = [
            {"key": one.patient.key, "because": one.because}
            for one in found
            if one.patient.key not in others
        ]
        if alike:
            told = "Patients alike are here already; add to one, or name them in different_from."
            raise Conflict(told, alike=alike)

    def partial_update(self, request: Request, key: str) -> Response:
        """Record that a patient died, withdrew, moved away or is back; reviews follow."""
        row = self.row()
        version = self.expected(row)
        values = self.given(row).values()
        service.change_status(
            patient=row,
            status=values.get("status", row.status),
            on=values.get("status_on", row.status_on),
            note=values.get("status_note", ""),
            expected_version=version,
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row)

    @extend_schema(responses=IdentitySerializer)
    @action(detail=True, methods=["get"])
    def identity(self, request: Request, key: str) -> Response:
        """Show who the patient is; that it was opened is written down."""
        row = self.row()
        audit.record_read(
            by=request.user, patient=row, now=timezone.now(), page="api-patient-identity"
        )
        return self._identity(row)

    @extend_schema(request=IdentitySerializer, responses=IdentitySerializer)
    @identity.mapping.patch
    def correct_identity(self, request: Request, key: str) -> Response:
        """Correct names, birth date or contacts; age and sex at each injury follow."""
        row = self.row()
        version = self.expected(row.identity)
        sent = IdentitySerializer(row.identity, data=request.data, partial=True)
        sent.is_valid(raise_exception=True)
        service.correct_identity(
            identity=row.identity,
            values=sent.validated_data,
            expected_version=version,
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self._identity(row)

    def _identity(self, row: Patient) -> Response:
        shown = IdentitySerializer(row.identity, context=self.get_serializer_context())
        return with_etag(Response(shown.data), row.identity.version)
