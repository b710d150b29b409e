from typing import Any

from django.utils import timezone
from django_filters import rest_framework as filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from followup.models.complications import Complication
from followup.selectors.visible import visible
from followup.services import complications as service
from registry.api.filters import RowFilter, days, patient
from registry.api.resources import Resource
from registry.api.rows import ROW, RowSerializer, TheirsField, reason_field
from registry.api.voiding import Voidable
from registry.models.procedures import Procedure

COLUMNS = (
    "kind",
    "onset_earliest",
    "onset_latest",
    "detected_on",
    "grade",
    "relation",
    "action",
    "resolved_on",
)


class ComplicationSerializer(RowSerializer):
    """One unwanted event after an operation. A planned removal is not one."""

    procedure = TheirsField(queryset=Procedure.objects.all(), right="record_visit")
    patient = serializers.CharField(source="procedure.injury.patient.key", read_only=True)
    reason = reason_field()
    columns = COLUMNS
    fixed = ("procedure",)

    class Meta:
        model = Complication
        fields = (*ROW, "patient", "procedure", *COLUMNS, "grade_scheme", "reason")
        read_only_fields = ("version", "recorded_at", "changed_at", "grade_scheme")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        attrs = super().validate(attrs)
        now = {name: self._now(name, attrs) for name in COLUMNS}
        faults: dict[str, str] = {}
        if (now["onset_earliest"] is None) != (now["onset_latest"] is None):
            faults["onset_latest"] = "Give the first and the last possible day, or neither."
        elif now["onset_latest"] is not None:
            if now["onset_latest"] < now["onset_earliest"]:
                faults["onset_latest"] = "This is before the first possible day."
            if now["onset_latest"] > now["detected_on"]:
                faults["onset_latest"] = "This is after the day on which it was detected."
        if now["resolved_on"] is not None and now["resolved_on"] < now["detected_on"]:
            faults["resolved_on"] = "This is before the day on which it was detected."
        if faults:
            raise serializers.ValidationError(faults)
        return attrs


class ComplicationFilter(RowFilter):
    patient = patient("procedure__injury__patient")
    detected_from = days("detected_on", "gte")
    detected_to = days("detected_on", "lte")
    resolved = filters.BooleanFilter(field_name="resolved_on", lookup_expr="isnull", exclude=True)

    class Meta:
        model = Complication
        fields = ("procedure", "kind", "grade")


class Complications(Voidable, Resource):
    """Complications, graded by what was done about them."""

    model = Complication
    serializer_class = ComplicationSerializer
    filterset_class = ComplicationFilter
    visible = staticmethod(visible)
    rights = {
        "create": "record_visit",
        "partial_update": "record_visit",
        "void": "record_visit",
    }
    versioned = frozenset({"partial_update", "void"})
    joined = (*Resource.joined, "procedure__injury__patient")

    def create(self, request: Request) -> Response:
        given = self.given()
        row = service.record_complication(
            procedure=given.validated_data["procedure"],
            values=given.values(),
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row, 201)

    def partial_update(self, request: Request, pk: int) -> Response:
        """Correct a complication, grade it, or record its end."""
        row = self.row()
        version = self.expected(row)
        given = self.given(row)
        service.correct_complication(
            complication=row,
            values=given.values(),
            expected_version=version,
            reason=given.validated_data["reason"],
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row)
