from typing import Any

from django.utils import timezone
from django_filters import rest_framework as filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from registry.api.filters import RowFilter
from registry.api.resources import Resource
from registry.api.rows import ROW, RowSerializer
from registry.models.patients import Patient, PatientStatus
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
    site = filters.CharFilter(field_name="at_sites__site__code", help_text="code of a site")
    status = filters.ChoiceFilter(choices=PatientStatus.choices)

    class Meta:
        model = Patient
        fields: tuple[str, ...] = ()


class Patients(Resource):
    """Patients by key. Names are a resource of their own, for those who may see them."""

    model = Patient
    serializer_class = PatientSerializer
    filterset_class = PatientFilter
    lookup_field = "key"
    lookup_value_converter = "str"
    rights = {"partial_update": "correct"}
    renamed = {"note": "status_note"}

    def get_queryset(self) -> Any:
        # An erased patient has no names left, and is opened by nobody.
        return super().get_queryset().filter(identity__isnull=False)

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
