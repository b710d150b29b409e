from collections.abc import Mapping
from typing import Any

from django.utils import timezone
from django_filters import rest_framework as filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from followup.models.scores import Score
from followup.rules.scores.catalogue import INSTRUMENTS, OLDER_FORMS
from followup.selectors.visible import visible
from followup.services import scores as service
from registry.api.base import Conflict
from registry.api.filters import RowFilter, days, patient
from registry.api.resources import Resource
from registry.api.rows import ROW, RowSerializer, TheirsField
from registry.api.voiding import Voidable
from registry.models.injuries import Injury

FIXED = ("injury", "instrument", "taken_on")
NAMES = [(code, instrument.name) for code, instrument in INSTRUMENTS.items()]
GIVEN = [*NAMES, *((code, form.name) for code, form in OLDER_FORMS.items())]


class ScoreSerializer(RowSerializer):
    """One completed instrument: its total, or the numbered answers that it is computed from."""

    injury = TheirsField(queryset=Injury.objects.all(), right="record_visit")
    patient = serializers.CharField(source="injury.patient.key", read_only=True)
    instrument = serializers.ChoiceField(
        choices=GIVEN, help_text="an older form is kept on the scale of the present one"
    )
    value = serializers.FloatField(
        required=False, allow_null=True, help_text="the total; empty where it is not computable"
    )
    items = serializers.DictField(
        child=serializers.FloatField(), required=False, help_text="answers by the item's number"
    )
    fixed = FIXED

    class Meta:
        model = Score
        fields = (
            *ROW,
            "patient",
            *FIXED,
            "instrument_version",
            "value",
            "items",
            "not_computable_reason",
            "mode",
            "hardware_in_place",
            "relative_pct",
            "relative_to",
        )
        read_only_fields = (
            "version",
            "recorded_at",
            "changed_at",
            "instrument_version",
            "not_computable_reason",
            "hardware_in_place",
            "relative_pct",
            "relative_to",
        )
        validators: tuple[Any, ...] = ()

    def validate_items(self, given: Mapping[str, float]) -> dict[int, float]:
        wrong = [name for name in given if not name.isdigit()]
        if wrong:
            raise serializers.ValidationError(f"{', '.join(wrong)}: name items by their numbers.")
        return {int(name): answer for name, answer in given.items()}

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        given = [name for name in ("value", "items") if attrs.get(name) not in (None, {})]
        if len(given) == 2:
            raise serializers.ValidationError({"value": "Give the total or the items, not both."})
        if not given and self.instance is None:
            raise serializers.ValidationError({"value": "Give the total or the items."})
        return super().validate(attrs)

    def answers(self) -> dict[str, Any]:
        """Return the total, the items and the mode for the service; what was not given stays."""
        sent, now = self.validated_data, self.instance
        mode = sent.get("mode", now.mode if now is not None else "clinic")
        items = sent.get("items") or None
        total = None if items else sent.get("value")
        if now is not None and total is None and items is None:
            items = {int(name): answer for name, answer in now.items.items()} or None
            total = None if now.value is None else float(now.value)
        return {"total": total, "items": items, "mode": mode}


class ScoreFilter(RowFilter):
    patient = patient("injury__patient")
    instrument = filters.ChoiceFilter(choices=NAMES)
    taken_from = days("taken_on", "gte")
    taken_to = days("taken_on", "lte")

    class Meta:
        model = Score
        fields = ("injury", "mode")


class Scores(Voidable, Resource):
    """Scores: one of each instrument a day and mode."""

    model = Score
    serializer_class = ScoreSerializer
    filterset_class = ScoreFilter
    visible = staticmethod(visible)
    rights = {
        "create": "record_visit",
        "partial_update": "record_visit",
        "void": "record_visit",
    }
    versioned = frozenset({"partial_update", "void"})
    joined = (*Resource.joined, "injury__patient")
    # A refused total is told by its instrument's code.
    renamed = dict.fromkeys([*INSTRUMENTS, *OLDER_FORMS], "value")

    def create(self, request: Request) -> Response:
        """Record a score; one that is there already for that instrument, day and mode is corrected."""
        given = self.given()
        there = {name: given.validated_data[name] for name in FIXED}
        answers = given.answers()
        kept = {**there, "instrument": service.kept_code(there["instrument"])}
        earlier = Score.objects.filter(**kept, mode=answers["mode"]).first()
        if earlier is not None:
            told = f"This was taken that day: correct score {earlier.pk}."
            raise Conflict(told, score=earlier.pk)
        row = service.record_score(
            **there,
            **answers,
            by=self.request.user,
            now=timezone.now(),
            today=timezone.localdate(),
            expected_version=0,
        )
        return self.saved(row, 201)

    def partial_update(self, request: Request, pk: int) -> Response:
        row = self.row()
        version = self.expected(row)
        changed = service.correct_score(
            score=row,
            **self.given(row).answers(),
            expected_version=version,
            by=self.request.user,
            now=timezone.now(),
        )
        return self.saved(changed)
