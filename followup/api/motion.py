from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from followup.models.motion import MotionExam
from followup.selectors.visible import visible
from followup.services import motion as service
from registry.api.base import Conflict
from registry.api.filters import RowFilter, days, patient
from registry.api.resources import Resource
from registry.api.rows import ROW, RowSerializer, TheirsField, checked_field, missing_field
from registry.api.voiding import Voidable
from registry.models.injuries import Injury

FIXED = ("injury", "examined_on", "side", "mode")
DEGREES = ("flexion_deg", "abduction_deg", "external_rotation_deg")
COLUMNS = (*FIXED[1:], *DEGREES, "internal_rotation")


class MotionExamSerializer(RowSerializer):
    """Motion of one side, active or passive, on one day; whole degrees."""

    injury = TheirsField(queryset=Injury.objects.all(), right="record_visit")
    patient = serializers.CharField(source="injury.patient.key", read_only=True)
    missing = missing_field()
    checked = checked_field()
    columns = COLUMNS
    measured = DEGREES
    fixed = FIXED

    class Meta:
        model = MotionExam
        fields = (*ROW, "patient", "injury", *COLUMNS, "missing", "flags", "checked")
        read_only_fields = ("version", "recorded_at", "changed_at", "flags")
        validators: tuple[Any, ...] = ()


class MotionExamFilter(RowFilter):
    patient = patient("injury__patient")
    examined_from = days("examined_on", "gte")
    examined_to = days("examined_on", "lte")

    class Meta:
        model = MotionExam
        fields = ("injury", "side", "mode")


class MotionExams(Voidable, Resource):
    """Motion exams: one of each side and mode a day."""

    model = MotionExam
    serializer_class = MotionExamSerializer
    filterset_class = MotionExamFilter
    visible = staticmethod(visible)
    rights = {
        "create": "record_visit",
        "partial_update": "record_visit",
        "void": "record_visit",
    }
    versioned = frozenset({"partial_update", "void"})
    joined = (*Resource.joined, "injury__patient")

    def create(self, request: Request) -> Response:
        """Record an exam; one that is there already for that side, mode and day is corrected."""
        given = self.given()
        sent = given.validated_data
        injury, values = sent["injury"], given.values()
        there = {"mode": MotionExam._meta.get_field("mode").default}
        there |= {name: values[name] for name in FIXED[1:] if name in values}
        earlier = MotionExam.objects.filter(injury=injury, **there).first()
        if earlier is not None:
            told = f"This was examined that day: correct motion exam {earlier.pk}."
            raise Conflict(told, motion_exam=earlier.pk)
        return self.saved(self._record(injury, values, expected_version=0), 201)

    def partial_update(self, request: Request, pk: int) -> Response:
        row = self.row()
        version = self.expected(row)
        there = {name: getattr(row, name) for name in FIXED[1:]}
        values = there | self.given(row).values()
        return self.saved(self._record(row.injury, values, expected_version=version))

    def _record(
        self, injury: Injury, values: dict[str, Any], *, expected_version: int
    ) -> MotionExam:
        return service.record_motion(
            injury=injury,
            values=values,
            by=self.request.user,
            now=timezone.now(),
            today=timezone.localdate(),
            expected_version=expected_version,
        )
