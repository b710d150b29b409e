from typing import Any

from django.utils import timezone
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from followup.api.visits import VisitSerializer
from followup.models.calendars import Clinic
from followup.models.contacts import ContactAttempt
from followup.models.reviews import Appointment, EndedBecause, Review
from followup.rules import requirements
from followup.selectors import slots
from followup.selectors.visible import visible
from followup.services import completion, contacts, visits
from followup.services import reviews as service
from registry.api.filters import RowFilter, days, patient
from registry.api.resources import Resource
from registry.api.rows import ROW, RowSerializer, Strict, TheirsField, shown_by

PLANNED = ("procedure", "step", "step_name")
SHOWN = (
    "opens_on",
    "due_on",
    "closes_on",
    "proposed_on",
    "state",
    "ended_because",
    "ended_reason",
    "attended_on",
    "complete",
    "not_obtainable",
    "next_step_note",
    "visit_note",
    "missed_count",
)


class AppointmentSerializer(serializers.ModelSerializer):
    """A slot of a review."""

    clinic = shown_by("name")
    surgeon = shown_by("username")

    class Meta:
        model = Appointment
        fields = ("id", "clinic", "surgeon", "on", "at", "film_first", "state")


class ReviewSerializer(RowSerializer):
    """One planned visit with its window, what it is to collect, and how it stands."""

    patient = serializers.CharField(source="procedure.injury.patient.key", read_only=True)
    step = serializers.CharField(source="step.code", read_only=True)
    step_name = serializers.CharField(source="step.name", read_only=True)
    ended_because = serializers.ChoiceField(
        choices=EndedBecause.choices, allow_blank=True, read_only=True
    )
    wanted = serializers.SerializerMethodField()
    appointments = AppointmentSerializer(many=True, read_only=True)

    class Meta:
        model = Review
        fields = (*ROW, "patient", *PLANNED, *SHOWN, "wanted", "appointments")
        read_only_fields = fields

    def get_wanted(self, row: Review) -> list[str]:
        return list(requirements.items(completion.wanted_by(row)))


class ReviewFilter(RowFilter):
    patient = patient("procedure__injury__patient")
    due_from = days("due_on", "gte")
    due_to = days("due_on", "lte")
    closes_from = days("closes_on", "gte")
    closes_to = days("closes_on", "lte")
    step = filters.CharFilter(field_name="step__code", help_text="code of a step")

    class Meta:
        model = Review
        fields = ("procedure", "state", "complete")


class BookSerializer(Strict, serializers.Serializer):
    """The slot that is booked."""

    clinic = TheirsField(queryset=Clinic.objects.all(), right="book")
    on = serializers.DateField()
    at = serializers.TimeField()


class SlotSerializer(serializers.Serializer):
    """A free time of one clinic on one day, the first of those that are free there."""

    clinic = serializers.IntegerField(source="clinic.pk")
    clinic_name = serializers.CharField(source="clinic.name")
    on = serializers.DateField()
    at = serializers.TimeField()
    free = serializers.IntegerField()
    inside_window = serializers.BooleanField()


class NotNeededSerializer(Strict, serializers.Serializer):
    """Why a review is not needed."""

    reason = serializers.CharField(max_length=300)


class NothingSerializer(Strict, serializers.Serializer):
    """The act says it all."""


class AttemptSerializer(Strict, serializers.ModelSerializer):
    """One try at reaching the patient."""

    class Meta:
        model = ContactAttempt
        fields = ("means", "outcome", "note")


class Reviews(Resource):
    """Reviews. They are planned by the service; each act on one has an address of its own."""

    model = Review
    serializer_class = ReviewSerializer
    filterset_class = ReviewFilter
    visible = staticmethod(visible)
    rights = {
        "slots": "book",
        "book": "book",
        "cancel": "book",
        "missed": "record_contact",
        "attempt": "record_contact",
        "not_needed": "end_review",
        "visit": "record_visit",
    }
    versioned = frozenset({"book", "cancel", "missed", "not_needed", "visit"})
    joined = (*Resource.joined, "step", "procedure__injury__patient")
    gathered = ("appointments__clinic", "appointments__surgeon")
    http_method_names = ["get", "post", "head", "options"]

    @extend_schema(responses=SlotSerializer(many=True), filters=False)
    @action(detail=True, methods=["get"], pagination_class=None)
    def slots(self, request: Request, pk: int) -> Response:
        """List where the review can be booked: inside its window first, nearest to its day."""
        found = slots.free_slots(self.row(), timezone.localdate())
        return Response(SlotSerializer(found, many=True).data)

    @extend_schema(request=BookSerializer, responses={200: ReviewSerializer})
    @action(detail=True, methods=["post"])
    def book(self, request: Request, pk: int) -> Response:
        """Book a slot; an earlier one is cancelled, and the patient is told."""
        row, version, sent = self._act(BookSerializer)
        service.book(
            review=row,
            **sent,
            expected_version=version,
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row)

    @extend_schema(request=None, responses={200: ReviewSerializer})
    @action(detail=True, methods=["post"])
    def cancel(self, request: Request, pk: int) -> Response:
        """Cancel the booked slot; the review is planned again."""
        row, version, _ = self._act(NothingSerializer)
        service.cancel(review=row, expected_version=version, by=request.user, now=timezone.now())
        return self.saved(row)

    @extend_schema(request=None, responses={200: ReviewSerializer})
    @action(detail=True, methods=["post"])
    def missed(self, request: Request, pk: int) -> Response:
        """Record that a booked patient did not come."""
        row, version, _ = self._act(NothingSerializer)
        service.miss(review=row, expected_version=version, by=request.user, now=timezone.now())
        return self.saved(row)

    @extend_schema(request=NotNeededSerializer, responses={200: ReviewSerializer})
    @action(detail=True, methods=["post"], url_path="not-needed")
    def not_needed(self, request: Request, pk: int) -> Response:
        """End a review by decision, with the reason."""
        row, version, sent = self._act(NotNeededSerializer)
        service.mark_not_needed(
            review=row, **sent, expected_version=version, by=request.user, now=timezone.now()
        )
        return self.saved(row)

    @extend_schema(request=AttemptSerializer, responses={201: ReviewSerializer})
    @action(detail=True, methods=["post"])
    def attempt(self, request: Request, pk: int) -> Response:
        """Write down one try at reaching the patient."""
        row = self.row()
        sent = AttemptSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        tried = {"note": "", **sent.validated_data}
        contacts.record_attempt(review=row, **tried, by=request.user, now=timezone.now())
        return self.saved(row, 201)

    @extend_schema(request=VisitSerializer, responses={200: ReviewSerializer})
    @action(detail=True, methods=["post"])
    def visit(self, request: Request, pk: int) -> Response:
        """Save all that one visit found, whole or not at all; the review is attended."""
        row = self.row()
        version = self.expected(row)
        sent = VisitSerializer(data=request.data, context=self.get_serializer_context())
        sent.is_valid(raise_exception=True)
        visits.save_visit(
            review=row,
            visited_on=sent.validated_data["visited_on"],
            findings=sent.findings(),
            expected_version=version,
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return self.saved(row)

    def _act(self, kind: type[serializers.BaseSerializer]) -> tuple[Review, int, dict[str, Any]]:
        """Return the review, the version that the act is about, and what was sent with it."""
        row = self.row()
        version = self.expected(row)
        sent = kind(data=self.request.data, context=self.get_serializer_context())
        sent.is_valid(raise_exception=True)
        return row, version, dict(sent.validated_data)
