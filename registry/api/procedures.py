from collections.abc import Mapping
from typing import Any

from django.utils import timezone
from django_filters import rest_framework as filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from registry.api.filters import RowFilter, days, patient
from registry.api.resources import Resource
from registry.api.rows import (
    ROW,
    RowSerializer,
    TheirsField,
    checked_field,
    missing_field,
    reason_field,
)
from registry.api.voiding import Voidable
from registry.models.injuries import Injury
from registry.models.people import Person
from registry.models.procedures import Procedure, ProcedureKind
from registry.selectors.people import surgeons_at
from registry.services import enrolment
from registry.services import procedures as service

COLUMNS = (
    "performed_on",
    "surgeon",
    "operator_grade",
    "assistant_grade",
    "position",
    "approach",
    "provisional_fixation",
    "reduction_quality",
    "intraoperative_film",
    "duration_minutes",
    "note",
)
FIXED = ("injury", "kind", "revises", "planned_removal")


class ProcedureSerializer(RowSerializer):
    """One operation on one injury; what it left in place is its construct."""

    injury = TheirsField(queryset=Injury.objects.all(), right="enrol")
    patient = serializers.CharField(source="injury.patient.key", read_only=True)
    surgeon = serializers.SlugRelatedField(
        slug_field="username",
        queryset=Person.objects.all(),
        required=False,
        allow_null=True,
        help_text="user name of a surgeon of the site",
    )
    revises = TheirsField(
        queryset=Procedure.objects.all(),
        right="enrol",
        required=False,
        allow_null=True,
    )
    days_from_injury = serializers.ListField(
        child=serializers.IntegerField(),
        read_only=True,
        help_text="fewest and most days; equal when the day of the injury is known",
    )
    missing = missing_field()
    checked = checked_field()
    reason = reason_field()
    columns = (*COLUMNS, "kind", "revises", "planned_removal")
    measured = ("duration_minutes",)
    fixed = FIXED

    class Meta:
        model = Procedure
        fields = (
            *ROW,
            "patient",
            *FIXED,
            *COLUMNS,
            "days_from_injury",
            "missing",
            "flags",
            "checked",
            "reason",
        )
        read_only_fields = ("version", "recorded_at", "changed_at", "flags")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        surgeon = attrs.get("surgeon")
        if surgeon is not None and surgeon not in surgeons_at(self._now("injury", attrs).site):
            told = f"{surgeon.username} is no surgeon of this site; leave it empty for others."
            raise serializers.ValidationError({"surgeon": told})
        return super().validate(attrs)

    def judged(self, given: Mapping[str, Any]) -> Mapping[str, Any]:
        """The delay of a first fixation is held to its limits, from the latest possible injury."""
        values = dict(given)
        on, injury = given.get("performed_on"), self._now("injury", given)
        first = self._now("kind", given) == ProcedureKind.FIXATION
        if first and on is not None and on >= injury.injured_earliest:
            values["days_from_injury"] = max(0, (on - injury.injured_latest).days)
        return values


class ProcedureFilter(RowFilter):
    patient = patient("injury__patient")
    construct_type = filters.CharFilter(field_name="construct__construct_type__code")
    performed_from = days("performed_on", "gte")
    performed_to = days("performed_on", "lte")

    class Meta:
        model = Procedure
        fields = ("injury", "kind")


class Procedures(Voidable, Resource):
    """Operations. Recording one plans its reviews and closes what it ends."""

    model = Procedure
    serializer_class = ProcedureSerializer
    filterset_class = ProcedureFilter
    rights = {"create": "enrol", "partial_update": "correct", "void": "correct"}
    versioned = frozenset({"partial_update", "void"})
    joined = (*Resource.joined, "injury__patient", "surgeon")

    def create(self, request: Request) -> Response:
        given = self.given()
        row = enrolment.record_procedure(
            injury=given.validated_data["injury"],
            values=given.values(),
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row, 201)

    def partial_update(self, request: Request, pk: int) -> Response:
        """Correct an operation; open reviews move with a corrected date."""
        row = self.row()
        version = self.expected(row)
        given = self.given(row)
        service.correct_procedure(
            procedure=row,
            values=given.values(),
            expected_version=version,
            reason=given.validated_data["reason"],
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row)
