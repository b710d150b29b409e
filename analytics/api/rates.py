from typing import Any

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from analytics.answers.horizons import HORIZONS
from analytics.answers.outcomes import COLUMNS, to_rows
from analytics.endpoints.catalogue import DEFINITIONS, endpoints
from analytics.selectors import outcomes as selector
from analytics.selectors.cohorts import GROUPS, refuse_foreign_site, refuse_other_surgeon, rule_from
from analytics.selectors.visible import sites_of
from analytics.services import snapshots
from registry.api.base import only_known
from registry.api.resources import NotKept, Rights

COUNTS = ("operated", "eligible", "evaluable", "events", "competing", "not_evaluable", "at_risk")


def _number(name: str) -> serializers.Field:
    if name == "group":
        return serializers.CharField(help_text=COLUMNS[name])
    if name in COUNTS:
        return serializers.IntegerField(help_text=COLUMNS[name])
    return serializers.FloatField(allow_null=True, help_text=COLUMNS[name])


class RateRowSerializer(serializers.Serializer):
    """One group's rate with its denominators, its intervals and its missing; shares, not percentages."""

    def get_fields(self) -> dict[str, serializers.Field]:
        return {name: _number(name) for name in COLUMNS}


class MadeFromSerializer(serializers.Serializer):
    """What reproduces the numbers: cohort, definition with its version, cut-off, snapshot."""

    cohort = serializers.CharField()
    left_out = serializers.CharField()
    endpoint = serializers.CharField()
    definition = serializers.CharField()
    definition_text = serializers.CharField()
    definition_source = serializers.CharField()
    primary = serializers.CharField()
    horizon = serializers.CharField()
    cutoff = serializers.DateField()
    snapshot = serializers.CharField()
    snapshot_taken = serializers.DateTimeField()
    code_version = serializers.CharField()
    caution = serializers.CharField()


class RatesSerializer(serializers.Serializer):
    """The answer to 'Did it hold?' as numbers, and in a sentence."""

    made_from = MadeFromSerializer()
    sentence = serializers.CharField()
    rows = RateRowSerializer(many=True)


def _asked(name: str, told: str, codes: list[str] | None = None) -> OpenApiParameter:
    return OpenApiParameter(name, str, description=told, enum=codes)


ASKED = [
    _asked("endpoint", "loss_of_reduction when left out", list(endpoints())),
    _asked(
        "definition",
        "the one that the sites in view chose when left out; refused where they chose none or differ",
        list(DEFINITIONS),
    ),
    _asked("horizon", "12m when left out", list(HORIZONS)),
    _asked("by", "construct_type when left out", list(GROUPS)),
    _asked("from", "operated from, year-month-day"),
    _asked("to", "operated to, year-month-day"),
    _asked("site", "code of a site"),
    _asked("surgeon", "number of a surgeon"),
    _asked("neer", "Neer class"),
    _asked("rockwood", "Rockwood class"),
    _asked("kind", "kind of injury"),
]


class Rates(NotKept, APIView):
    """Rates of an endpoint at a horizon: the numbers of the Outcomes page and of the rates command."""

    permission_classes = [IsAuthenticated, Rights]

    def right(self) -> str:
        """Return the right that seeing rates needs."""
        return "see_outcomes"

    @extend_schema(
        parameters=ASKED,
        responses=RatesSerializer,
    )
    def get(self, request: Request) -> Response:
        """Answer with rates by group, the last row being all of them."""
        only_known(request, [one.name for one in ASKED])
        asked: dict[str, Any] = request.query_params.dict()
        rule, sites = rule_from(asked), sites_of(request.user)
        refuse_foreign_site(rule, sites)
        refuse_other_surgeon(rule, request.user, sites)
        snapshot = snapshots.current(now=timezone.now(), today=timezone.localdate())
        view = selector.given(rule, sites, snapshot, snapshots.frames_of(snapshot))
        result = selector.outcome_answer(view)
        answer = {
            "made_from": selector.provenance(view),
            "sentence": result.sentence,
            "rows": to_rows(result),
        }
        return Response(RatesSerializer(answer).data)
