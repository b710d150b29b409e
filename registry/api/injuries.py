from collections.abc import Mapping
from typing import Any

from django.db.models import Prefetch
from django.utils import timezone
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from registry.api.filters import RowFilter, days, patient
from registry.api.resources import Resource
from registry.api.rows import (
    ROW,
    RowSerializer,
    Strict,
    TheirsByWordField,
    checked_field,
    missing_field,
    reason_field,
)
from registry.api.voiding import Voidable
from registry.models.injuries import CLASS_CODES, Classification, ClassSystem, Injury
from registry.models.patients import Patient
from registry.models.sites import Site
from registry.rules import dates
from registry.selectors.visible import visible
from registry.services import enrolment, moves
from registry.services import injuries as service

COLUMNS = (
    "kind",
    "side",
    "injured_earliest",
    "injured_latest",
    "mechanism",
    "energy",
    "skin",
    "dominant_arm",
    "other_shoulder",
    "smoking",
    "diabetes",
    "bmi_kg_m2",
    "steroid_use",
    "osteoporosis",
    "work_demand",
    "sport_demand",
)


class ClassificationSerializer(Strict, serializers.ModelSerializer):
    """A class given by one system; the newest opinion counts."""

    class Meta:
        model = Classification
        fields = ("id", "system", "edition", "code", "classified_on")
        read_only_fields = ("edition", "classified_on")
        validators: tuple[Any, ...] = ()

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        system, code = attrs["system"], attrs["code"]
        if code not in CLASS_CODES[system]:
            name, codes = ClassSystem(system).label, ", ".join(CLASS_CODES[system])
            raise serializers.ValidationError({"code": f"{name} has no {code}; it has {codes}."})
        return attrs


class InjurySerializer(RowSerializer):
    """One injured shoulder. A date known only in part is given as its first and last possible day."""

    patient = TheirsByWordField(
        slug_field="key", queryset=Patient.objects.all(), right="enrol", help_text="key"
    )
    site = TheirsByWordField(
        slug_field="code",
        queryset=Site.objects.all(),
        right="enrol",
        required=False,
        help_text="code; the patient's own when left out",
    )
    classifications = ClassificationSerializer(many=True, required=False)
    missing = missing_field()
    checked = checked_field()
    reason = reason_field()
    columns = COLUMNS
    measured = ("bmi_kg_m2",)
    fixed = ("patient", "site")

    class Meta:
        model = Injury
        fields = (
            *ROW,
            "patient",
            *COLUMNS,
            "age_years",
            "sex",
            "classifications",
            "missing",
            "flags",
            "checked",
            "reason",
        )
        read_only_fields = ("version", "recorded_at", "changed_at", "age_years", "sex", "flags")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        earliest, latest = (
            self._now(name, attrs) for name in ("injured_earliest", "injured_latest")
        )
        if latest < earliest:
            told = f"{latest} is before the first possible day, {earliest}."
            raise serializers.ValidationError({"injured_latest": told})
        if self.instance is not None and "classifications" in attrs:
            told = "Give a new opinion by the act 'classify'; earlier ones are kept."
            raise serializers.ValidationError({"classifications": told})
        return super().validate(attrs)

    def judged(self, given: Mapping[str, Any]) -> Mapping[str, Any]:
        """The age at injury is held to its limits too, from the latest possible days."""
        values = dict(given)
        identity = getattr(self._now("patient", given), "identity", None)
        hurt = given.get("injured_latest")
        if hurt is not None and identity is not None:
            born = dates.Bounds(identity.birth_earliest, identity.birth_latest)
            if hurt >= born.earliest:
                values["age_years"] = dates.age_on(born, hurt)
        return values


class MoveSerializer(Strict, serializers.Serializer):
    """Whose an injury is that was entered on another patient, and how that is known."""

    patient = TheirsByWordField(
        slug_field="key", queryset=Patient.objects.all(), right="correct", help_text="key"
    )
    reason = serializers.CharField(max_length=300)


class SideSerializer(Strict, serializers.Serializer):
    """How it is known that an injury is of the other side."""

    with_motion = serializers.BooleanField(
        default=True,
        help_text="Whether exams of motion change sides too: they were of the injured or other one.",
    )
    reason = serializers.CharField(max_length=300)


class InjuryFilter(RowFilter):
    patient = patient("patient")
    injured_from = days("injured_earliest", "gte")
    injured_to = days("injured_latest", "lte")
    neer = filters.CharFilter(method="of_class", help_text="current Neer class")

    class Meta:
        model = Injury
        fields = ("kind", "side")

    def of_class(self, rows: Any, name: str, code: str) -> Any:
        now = Classification.objects.filter(system=name, code=code, superseded=False)
        return rows.filter(pk__in=now.values("injury_id"))


class Injuries(Voidable, Resource):
    """Injuries with their classes and the risks at that time."""

    model = Injury
    serializer_class = InjurySerializer
    filterset_class = InjuryFilter
    rights = {
        "create": "enrol",
        "partial_update": "correct",
        "classify": "correct",
        "move": "correct",
        "side": "correct",
        "void": "correct",
    }
    versioned = frozenset({"partial_update", "move", "side", "void"})
    joined = (*Resource.joined, "patient")
    gathered = (
        Prefetch("classifications", queryset=Classification.objects.filter(superseded=False)),
    )
    renamed = {"injury_date": "injured_earliest"}

    def create(self, request: Request) -> Response:
        given = self.given()
        sent = given.validated_data
        whose = sent["patient"]
        home = visible(request.user, Site, "enrol").filter(pk=whose.site_id).first()
        site = sent.get("site") or home
        if site is None:
            raise serializers.ValidationError({"site": "Name the site that treats this injury."})
        row = enrolment.record_injury(
            patient=whose,
            site=site,
            values=given.values(),
            classes={one["system"]: one["code"] for one in sent.get("classifications", [])},
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row, 201)

    def partial_update(self, request: Request, pk: int) -> Response:
        """Correct an injury; the age at injury follows its date."""
        row = self.row()
        version = self.expected(row)
        given = self.given(row)
        service.correct_injury(
            injury=row,
            values=given.values(),
            expected_version=version,
            reason=given.validated_data["reason"],
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row)

    @extend_schema(request=ClassificationSerializer, responses={201: InjurySerializer})
    @action(detail=True, methods=["post"])
    def classify(self, request: Request, pk: int) -> Response:
        """Give an injury a class; an earlier opinion in the same system is kept as superseded."""
        row = self.row()
        sent = ClassificationSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        enrolment.classify(
            injury=row,
            system=sent.validated_data["system"],
            code=sent.validated_data["code"],
            opinion_of=request.user,
            by=request.user,
            now=timezone.now(),
        )
        return self.saved(row, 201)

    @extend_schema(request=MoveSerializer, responses=InjurySerializer)
    @action(detail=True, methods=["post"])
    def move(self, request: Request, pk: int) -> Response:
        """Give an injury, with everything on it, to the patient whose it is."""
        row = self.row()
        version = self.expected(row)
        sent = MoveSerializer(data=request.data, context={"request": request})
        sent.is_valid(raise_exception=True)
        to = sent.validated_data["patient"]
        moves.move_to_patient(
            injury=row,
            to=to,
            reason=sent.validated_data["reason"],
            expected_version=version,
            to_version=to.version,
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row)

    @extend_schema(request=SideSerializer, responses=InjurySerializer)
    @action(detail=True, methods=["post"])
    def side(self, request: Request, pk: int) -> Response:
        """Say that an injury is of the other side; what is said of injured and other stays true."""
        row = self.row()
        version = self.expected(row)
        sent = SideSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        moves.change_side(
            injury=row,
            with_motion=sent.validated_data["with_motion"],
            reason=sent.validated_data["reason"],
            expected_version=version,
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row)
