from typing import Any

from django.utils import timezone
from django_filters import rest_framework as filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from followup.models.hardware import HardwareDecision, RaisedBecause
from followup.rules import prompts
from followup.selectors.visible import visible
from followup.services import hardware as service
from registry.api.base import Conflict
from registry.api.filters import RowFilter, patient
from registry.api.resources import Resource
from registry.api.rows import ROW, RowSerializer, TheirsField
from registry.models.procedures import Procedure

DECIDED = ("state", "wish_on", "deferred_until", "reason")
BY_HAND = (RaisedBecause.SYMPTOMS, RaisedBecause.COMPLICATION, RaisedBecause.CLINICIAN)


class HardwareDecisionSerializer(RowSerializer):
    """Whether one operation's hardware comes out. 'Done' comes only from recording the removal."""

    procedure = TheirsField(queryset=Procedure.objects.all(), right="decide_hardware")
    patient = serializers.CharField(source="procedure.injury.patient.key", read_only=True)
    columns = DECIDED
    fixed = ("procedure", "raised_because")

    class Meta:
        model = HardwareDecision
        fields = (
            *ROW,
            "patient",
            "procedure",
            "raised_because",
            "raised_on",
            "decided_on",
            "removal",
            *DECIDED,
        )
        read_only_fields = (
            "version",
            "recorded_at",
            "changed_at",
            "raised_on",
            "decided_on",
            "removal",
        )
        validators: tuple[Any, ...] = ()

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        attrs = super().validate(attrs)
        if self.instance is None and attrs["raised_because"] not in BY_HAND:
            told = "The service raises this by itself when the construct's time has come."
            raise serializers.ValidationError({"raised_because": told})
        return attrs


class HardwareFilter(RowFilter):
    patient = patient("procedure__injury__patient")
    open = filters.BooleanFilter(method="still_open", help_text="not declined and not done")

    class Meta:
        model = HardwareDecision
        fields = ("procedure", "state", "raised_because")

    def still_open(self, rows: Any, name: str, wanted: bool) -> Any:
        waiting = {"state__in": sorted(prompts.OPEN)}
        return rows.filter(**waiting) if wanted else rows.exclude(**waiting)


class HardwareDecisions(Resource):
    """Hardware decisions: raised, discussed, planned, deferred, declined, done."""

    model = HardwareDecision
    serializer_class = HardwareDecisionSerializer
    filterset_class = HardwareFilter
    visible = staticmethod(visible)
    see = "see_hardware"
    rights = {"create": "decide_hardware", "partial_update": "decide_hardware"}
    joined = (*Resource.joined, "procedure__injury__patient")

    def create(self, request: Request) -> Response:
        """Raise the question of removal; refused with 409 while it is open or the hardware is out."""
        sent = self.given().validated_data
        row = service.raise_question(
            procedure=sent["procedure"],
            because=sent["raised_because"],
            reason=sent.get("reason", ""),
            by=request.user,
            now=timezone.now(),
            on=timezone.localdate(),
        )
        if row is None:
            raise Conflict("This hardware is out, or the question about it is open already.")
        return self.saved(row, 201)

    def partial_update(self, request: Request, pk: int) -> Response:
        """Record what was decided."""
        row = self.row()
        version = self.expected(row)
        values = self.given(row).values()
        service.decide(
            decision=row,
            state=values.get("state", row.state),
            values=values,
            expected_version=version,
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row)
