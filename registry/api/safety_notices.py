from typing import Any, ClassVar

from django.db.models import Prefetch
from django_filters import rest_framework as filters
from rest_framework import serializers

from registry.api.filters import RowFilter, days, patient
from registry.api.resources import Resource
from registry.api.rows import shown_by
from registry.models.safety_notices import CarrierStep, NoticeCarrier, NoticeScope, SafetyNotice

LINE = (
    *("device_identifier", "catalogue_number", "batch_first", "batch_last"),
    *("serial_first", "serial_last", "expires_from", "expires_to"),
)
NOTICE = (
    *("id", "version", "reference", "title", "kind", "advice", "issued_on", "received_on"),
    *("due_on", "must_be_seen", "withdrawn_on", "owner", "recorded_at", "recorded_by", "scopes"),
)
CARRIER = (
    *("id", "site", "version", "notice", "reference", "patient", "procedure", "sureness"),
    *("because", "state", "steps", "recorded_at", "changed_at"),
)
STEP = ("kind", "state", "on", "note", "at", "by")


class ScopeSerializer(serializers.ModelSerializer):
    """One line of what a notice is about: whatever is given in it has to fit together."""

    class Meta:
        model = NoticeScope
        fields = LINE
        read_only_fields = LINE


class NoticeSerializer(serializers.ModelSerializer):
    """A field safety notice. It belongs to no site and names no patient."""

    owner = shown_by("username")
    recorded_by = shown_by("username")
    scopes = ScopeSerializer(many=True, read_only=True)

    class Meta:
        model = SafetyNotice
        fields = NOTICE
        read_only_fields = NOTICE


class StepSerializer(serializers.ModelSerializer):
    """One step of what became of a carrier; steps are added and never changed."""

    by = shown_by("username")

    class Meta:
        model = CarrierStep
        fields = STEP
        read_only_fields = STEP


class CarrierSerializer(serializers.ModelSerializer):
    """An operation that left in a patient what a notice is, or may be, about."""

    site = shown_by("code")
    reference = serializers.CharField(source="notice.reference", read_only=True)
    patient = serializers.CharField(
        source="procedure.injury.patient.key", read_only=True, help_text="key of the patient"
    )
    steps = StepSerializer(source="course", many=True, read_only=True)

    class Meta:
        model = NoticeCarrier
        fields = CARRIER
        read_only_fields = CARRIER


class NoticeFilter(filters.FilterSet):
    received_from = days("received_on", "gte")
    received_to = days("received_on", "lte")

    class Meta:
        model = SafetyNotice
        fields = ("kind", "reference")


class CarrierFilter(RowFilter):
    patient = patient("procedure__injury__patient")
    reference = filters.CharFilter(
        field_name="notice__reference", help_text="reference of a notice"
    )

    class Meta:
        model = NoticeCarrier
        fields = ("notice", "state", "sureness", "procedure")


class Notices(Resource):
    """Safety notices with what they are about; they are entered on their page."""

    model = SafetyNotice
    serializer_class = NoticeSerializer
    filterset_class = NoticeFilter
    see = "trace"
    joined = ("owner", "recorded_by")
    gathered = ("scopes",)
    http_method_names = ["get", "head", "options"]


class Carriers(Resource):
    """Who carries, or may carry, what a notice is about, with every step; steps are taken on the page."""

    model = NoticeCarrier
    serializer_class = CarrierSerializer
    filterset_class = CarrierFilter
    see = "trace"
    joined = ("site", "notice", "procedure__injury__patient")
    gathered: ClassVar[tuple[Any, ...]] = (
        Prefetch(
            "steps", CarrierStep.objects.select_related("by").order_by("pk"), to_attr="course"
        ),
    )
    http_method_names = ["get", "head", "options"]
