from typing import Any

from django.utils import timezone
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from registry.api.filters import RowFilter, days, patient
from registry.api.labels import (
    LABELLED_EXAMPLE,
    LabelledPartSerializer,
    LabelledPartsSerializer,
    WarningSerializer,
)
from registry.api.resources import Resource
from registry.api.rows import (
    ROW,
    RowSerializer,
    Strict,
    TheirsByWordField,
    TheirsField,
    checked_field,
    missing_field,
    reason_field,
)
from registry.errors import BadInput
from registry.models.constructs import Construct, ConstructDeparture, ConstructType, Part
from registry.models.implants import PartKind
from registry.models.procedures import Procedure
from registry.rules.construct_checks import CHECKS, Verdict
from registry.rules.part_words import traced_by
from registry.services import construct_checks, enrolment, implants
from registry.services import procedures as service

MEASURED = (
    "plate_holes",
    "lateral_screw_count",
    "lateral_screw_diameter_mm",
    "lateral_drill_mm",
    "shaft_screw_count",
    "shaft_screw_diameter_mm",
    "shaft_drill_mm",
    "shaft_cortices",
    "anchor_count",
    "button_count",
    "free_slots_count",
    "retainer_count",
    "half_hitch_count",
)
COLUMNS = (
    "construct_type",
    *MEASURED,
    "lateral_screws_locking",
    "first_two_screws",
    "guide_wire_clear",
    "shorter_screw_chosen",
    "suture_kind",
    "knot",
    "graft",
)


class PartSerializer(Strict, serializers.ModelSerializer):
    """One implanted part: which article, how many, which batch."""

    kind = serializers.ChoiceField(source="implant_model.kind", choices=PartKind.choices)
    description = serializers.CharField(
        source="implant_model.description", max_length=120, help_text="in generic words"
    )
    catalogue_number = serializers.CharField(
        source="implant_model.catalogue_number", max_length=40, required=False, allow_blank=True
    )
    device_identifier = serializers.CharField(
        source="implant_model.device_identifier", max_length=40, required=False, allow_blank=True
    )
    warnings = WarningSerializer(
        many=True, read_only=True, help_text="what was told of it when it was recorded"
    )
    traceable_by = serializers.SerializerMethodField(help_text="how far it can be traced")

    class Meta:
        model = Part
        fields = (
            "id",
            "version",
            "kind",
            "description",
            "catalogue_number",
            "device_identifier",
            "quantity",
            "batch",
            "serial",
            "expires_on",
            "made_on",
            "raw_identifier",
            "other_identifiers",
            "batch_not_obtainable",
            "warnings",
            "kept_because",
            "traceable_by",
        )
        read_only_fields = ("version", "other_identifiers")

    def get_traceable_by(self, row: Part) -> str:
        return traced_by(
            device_identifier=row.implant_model.device_identifier,
            catalogue_number=row.implant_model.catalogue_number,
            batch=row.batch,
            serial=row.serial,
            batch_not_obtainable=row.batch_not_obtainable,
        )

    @staticmethod
    def given(sent: dict[str, Any]) -> implants.PartGiven:
        """Return a part as the service takes it."""
        article = sent.pop("implant_model")
        return implants.PartGiven(**article, **sent)


class DepartureSerializer(serializers.ModelSerializer):
    """A construct check that was not met, with the reason."""

    class Meta:
        model = ConstructDeparture
        fields = ("check_id", "check_version", "found", "reason")


class CheckSerializer(serializers.Serializer):
    """One construct check's verdict; common practice, never a block."""

    id = serializers.CharField()
    version = serializers.IntegerField()
    text = serializers.CharField()
    basis = serializers.CharField()
    verdict = serializers.ChoiceField(choices=[(one.value, one.name) for one in Verdict])
    found = serializers.CharField()


class ConstructSerializer(RowSerializer):
    """What one operation left in place, its parts, and what the construct checks say of it."""

    procedure = TheirsField(queryset=Procedure.objects.all(), right="enrol")
    patient = serializers.CharField(source="procedure.injury.patient.key", read_only=True)
    construct_type = TheirsByWordField(
        slug_field="code", queryset=ConstructType.objects.all(), right="enrol", help_text="code"
    )
    parts = PartSerializer(many=True, required=False)
    departures = DepartureSerializer(many=True, read_only=True)
    departure_reasons = serializers.DictField(
        child=serializers.CharField(max_length=300, allow_blank=True),
        write_only=True,
        required=False,
        help_text="Why a check is departed from, by its id; a departure never blocks saving.",
    )
    checks = serializers.SerializerMethodField()
    disagreements = serializers.SerializerMethodField(
        help_text="Typed counts that the parts do not bear out, in words."
    )
    missing = missing_field()
    checked = checked_field()
    reason = reason_field()
    columns = COLUMNS
    measured = MEASURED
    fixed = ("procedure",)

    class Meta:
        model = Construct
        fields = (
            *ROW,
            "patient",
            "procedure",
            *COLUMNS,
            "parts",
            "departures",
            "departure_reasons",
            "checks",
            "disagreements",
            "missing",
            "flags",
            "checked",
            "reason",
        )
        read_only_fields = ("version", "recorded_at", "changed_at", "flags")

    @extend_schema_field(CheckSerializer(many=True))
    def get_checks(self, row: Construct) -> Any:
        pieces = construct_checks.pieces_of(row.parts.all())
        results = construct_checks.results_of(row, row.procedure, pieces)
        return CheckSerializer(results, many=True).data

    def get_disagreements(self, row: Construct) -> list[str]:
        pieces = construct_checks.pieces_of(row.parts.all())
        return [one.words for one in construct_checks.disagreements_of(row, pieces)]

    def validate_departure_reasons(self, given: dict[str, str]) -> dict[str, str]:
        known = {check.id for check in CHECKS}
        if unknown := sorted(given.keys() - known):
            told = f"{', '.join(unknown)}: no such check; there are {', '.join(sorted(known))}."
            raise serializers.ValidationError(told)
        return given

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        kind = attrs.get("construct_type")
        now = getattr(self.instance, "construct_type", None)
        if kind is not None and kind != now and not kind.is_active:
            told = f"{kind.code} is no longer in use; choose another construct type."
            raise serializers.ValidationError({"construct_type": told})
        if self.instance is not None and "parts" in attrs:
            raise serializers.ValidationError({"parts": "Add a part by the act 'parts'."})
        return super().validate(attrs)


class ConstructFilter(RowFilter):
    patient = patient("procedure__injury__patient")
    construct_type = filters.CharFilter(field_name="construct_type__code", help_text="code")
    performed_from = days("procedure__performed_on", "gte")
    performed_to = days("procedure__performed_on", "lte")

    class Meta:
        model = Construct
        fields = ("procedure",)


class Constructs(Resource):
    """Constructs with their parts. What departs from a construct check is noted, never refused."""

    model = Construct
    serializer_class = ConstructSerializer
    filterset_class = ConstructFilter
    rights = {
        "create": "enrol",
        "partial_update": "correct",
        "parts": "correct",
        "labelled_parts": "correct",
    }
    joined = (*Resource.joined, "construct_type", "procedure__injury__patient")
    gathered = ("parts__implant_model", "departures")

    def create(self, request: Request) -> Response:
        """Record what an operation left in place; its reviews follow the construct's own protocol."""
        given = self.given()
        sent = given.validated_data
        row = enrolment.complete_procedure(
            procedure=sent["procedure"],
            values=given.values(),
            departure_reasons=sent.get("departure_reasons", {}),
            parts=[PartSerializer.given(part) for part in sent.get("parts", [])],
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row, 201)

    def partial_update(self, request: Request, pk: int) -> Response:
        """Correct a construct; what it departs from is noted afresh."""
        row = self.row()
        version = self.expected(row)
        given = self.given(row)
        service.correct_construct(
            construct=row,
            values=given.values(),
            departure_reasons=given.validated_data.get("departure_reasons", {}),
            expected_version=version,
            reason=given.validated_data["reason"],
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row)

    @extend_schema(request=PartSerializer, responses={201: ConstructSerializer})
    @action(detail=True, methods=["post"])
    def parts(self, request: Request, pk: int) -> Response:
        """Add a part; an article that is not listed yet joins the list."""
        row = self.row()
        sent = PartSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        implants.add_part(
            construct=row,
            given=PartSerializer.given(sent.validated_data),
            by=request.user,
            now=timezone.now(),
        )
        return self.saved(row, 201)

    @extend_schema(
        request=LabelledPartsSerializer,
        responses={201: ConstructSerializer},
        examples=[LABELLED_EXAMPLE],
    )
    @action(detail=True, methods=["post"], url_path="labelled-parts")
    def labelled_parts(self, request: Request, pk: int) -> Response:
        """Add parts by their labels, all or none; what is doubtful is refused until it is settled."""
        row = self.row()
        sent = LabelledPartsSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        today = timezone.localdate()
        parts = []
        for number, one in enumerate(sent.validated_data["labels"], 1):
            try:
                parts.append(implants.part_of(LabelledPartSerializer.given(one), today))
            except BadInput as fault:
                told = [f"{name}: {text}" for name, text in fault.faults.items()]
                raise BadInput({f"part {number}": " ".join(told)}) from fault
        implants.add_parts(construct=row, given=parts, by=request.user, now=timezone.now())
        return self.saved(row, 201)
