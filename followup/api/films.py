from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from followup.models.films import Film, Reading
from followup.models.findings import ReadingFinding
from followup.rules.findings import Found
from followup.selectors.films import readings_seen_by
from followup.selectors.visible import visible
from followup.services import films as service
from registry.api.base import Conflict
from registry.api.filters import RowFilter, days, patient
from registry.api.resources import Resource
from registry.api.rows import (
    ROW,
    RowSerializer,
    Strict,
    TheirsField,
    checked_field,
    missing_field,
    shown_by,
)
from registry.errors import NotAllowed
from registry.models.injuries import Injury

FILM = ("taken_on", "view", "posture", "weighted", "shows_both_sides", "calibration")
LENGTHS = (
    *("ccd_injured_mm", "ccd_other_mm", "ccd_side_ratio_pct"),
    *("acd_injured_mm", "acd_other_mm", "translation_pct"),
)
# What a program cannot send: marks are set on the picture by a reader.
MEASURED = ("image", "landmarks", "calibration_used")
COUNTED = "cortices_bridged"
READING = (*LENGTHS, "union", COUNTED, "fracture_line", "hardware", "blind")

FINDINGS = (
    "What was looked for, each kind once; a grade and a place only where it is present. Hardware that "
    "is left out follows from what is present, and one that contradicts it is refused."
)


class FilmSerializer(RowSerializer):
    """One radiograph of an injury."""

    injury = TheirsField(queryset=Injury.objects.all(), right="record_visit")
    patient = serializers.CharField(source="injury.patient.key", read_only=True)
    columns = FILM

    class Meta:
        model = Film
        fields = (*ROW, "patient", "injury", *FILM)
        read_only_fields = ("version", "recorded_at", "changed_at")


class FilmFilter(RowFilter):
    patient = patient("injury__patient")
    taken_from = days("taken_on", "gte")
    taken_to = days("taken_on", "lte")

    class Meta:
        model = Film
        fields = ("injury", "view")


class Films(Resource):
    """Films; what was measured on them is a reading."""

    model = Film
    serializer_class = FilmSerializer
    filterset_class = FilmFilter
    visible = staticmethod(visible)
    see = "see_films"
    rights = {"create": "record_visit"}
    joined = (*Resource.joined, "injury__patient")
    http_method_names = ["get", "post", "head", "options"]

    def create(self, request: Request) -> Response:
        given = self.given()
        row = service.record_film(
            injury=given.validated_data["injury"],
            values=given.values(),
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row, 201)


class FindingSerializer(Strict, serializers.ModelSerializer):
    """What one reader says of one kind of finding; what was not looked for is left out."""

    class Meta:
        model = ReadingFinding
        fields = ("kind", "state", "grade", "place")
        validators: tuple[Any, ...] = ()


class ReadingSerializer(RowSerializer):
    """What one reader measured and found on one film; lengths in mm need a calibrated film."""

    film = TheirsField(queryset=Film.objects.all(), right="read_film")
    patient = serializers.CharField(source="film.injury.patient.key", read_only=True)
    reader = shown_by("username")
    missing = missing_field()
    checked = checked_field()
    origin = serializers.CharField(read_only=True, help_text="where its numbers come from")
    findings = FindingSerializer(many=True, required=False, help_text=FINDINGS)
    columns = READING
    measured = (*LENGTHS, COUNTED)
    fixed = ("film",)

    class Meta:
        model = Reading
        fields = (
            *ROW,
            "patient",
            "film",
            "reader",
            "read_on",
            "turn",
            *READING,
            "findings",
            *MEASURED,
            "origin",
            "superseded_by",
            "missing",
            "flags",
            "checked",
        )
        read_only_fields = (
            "version",
            "recorded_at",
            "changed_at",
            "read_on",
            "turn",
            *MEASURED,
            "superseded_by",
            "flags",
        )

    def found(self) -> list[Found] | None:
        """Return the findings that were given, None where nothing was said about them."""
        given = self.validated_data.get("findings")
        return None if given is None else found_of(given)


def found_of(given: Iterable[Mapping[str, Any]]) -> list[Found]:
    """Return findings as they were sent, as the rules take them."""
    return [Found(**one) for one in given]


class ReadingFilter(RowFilter):
    patient = patient("film__injury__patient")
    injury = filters.NumberFilter(field_name="film__injury")
    taken_from = days("film__taken_on", "gte")
    taken_to = days("film__taken_on", "lte")
    current = filters.BooleanFilter(
        field_name="superseded_by", lookup_expr="isnull", help_text="leave out the superseded"
    )

    class Meta:
        model = Reading
        fields = ("film", "union", "hardware")


class Readings(Resource):
    """Readings: never overwritten, a correction supersedes. A film reader sees those of their own."""

    model = Reading
    serializer_class = ReadingSerializer
    filterset_class = ReadingFilter
    visible = staticmethod(visible)
    see = "see_films"
    rights = {"create": "read_film", "correct": "read_film"}
    versioned = frozenset({"correct"})
    joined = (*Resource.joined, "film__injury__patient", "reader", "calibration_used")
    gathered = ("findings",)
    http_method_names = ["get", "post", "head", "options"]

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):
            return rows
        return rows.filter(pk__in=readings_seen_by(self.request.user).values("pk"))

    def create(self, request: Request) -> Response:
        """Record what was measured on a film; who has read it before corrects that reading."""
        given = self.given()
        film = given.validated_data["film"]
        earlier = Reading.objects.filter(
            film=film, reader=request.user, superseded_by__isnull=True
        ).first()
        if earlier is not None:
            told = f"You have read this film: correct reading {earlier.pk}, which is kept."
            raise Conflict(told, reading=earlier.pk)
        row = self._read(film, given.values(), given.found(), expected_version=0)
        return self.saved(row, 201)

    @extend_schema(request=ReadingSerializer, responses={201: ReadingSerializer})
    @action(detail=True, methods=["post"])
    def correct(self, request: Request, pk: int) -> Response:
        """Correct a reading of one's own by a new one, which is answered; the old one is kept.

        Findings are given whole or not at all: left out, those of the old one are kept.
        """
        earlier = self.row()
        version = self.expected(earlier)
        if earlier.reader_id != request.user.pk:
            raise NotAllowed("Only its reader corrects a reading; read the film yourself.")
        if earlier.superseded_by_id is not None:
            raise Conflict(f"Reading {earlier.superseded_by_id} has superseded this one already.")
        given = self.given(earlier)
        values = {name: getattr(earlier, name) for name in READING} | given.values()
        row = self._read(earlier.film, values, given.found(), expected_version=version)
        return self.saved(row, 201)

    def _read(
        self,
        film: Film,
        values: dict[str, Any],
        found: list[Found] | None,
        *,
        expected_version: int,
    ) -> Reading:
        return service.record_reading(
            film=film,
            values=values,
            reader=self.request.user,
            by=self.request.user,
            now=timezone.now(),
            today=timezone.localdate(),
            expected_version=expected_version,
            found=found,
        )
