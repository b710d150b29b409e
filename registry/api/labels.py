from dataclasses import dataclass
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import ViewSet

from registry.api.resources import NotKept, Rights
from registry.api.rows import Strict, TheirsField
from registry.errors import BadInput
from registry.models.implants import ImplantModel, PartKind
from registry.models.procedures import Procedure
from registry.rules import udi
from registry.rules.labels import Label, LabelRefused
from registry.selectors import implant_models
from registry.selectors.scanned import Chosen, seen
from registry.services.implants import LabelGiven

MOST = 900
MOST_LABELS = 60
TEXT = (
    "As it was scanned, the separator as character 29; in brackets; an address; or a bare number. "
    "Symbols of one label stand in lines of their own."
)
SCAN = "]d201095060001343521727013110LOT42A\u001d21SN0042"


def text_field() -> serializers.CharField:
    """Return the field of a label's text, in which nothing is trimmed."""
    return serializers.CharField(max_length=MOST, trim_whitespace=False, help_text=TEXT)


class LabelTextSerializer(Strict, serializers.Serializer):
    """The text of a label, and the operation that it was used at, if there is one."""

    text = text_field()
    procedure = TheirsField(
        queryset=Procedure.objects.all(),
        right="see_patient",
        required=False,
        help_text="Warnings are told only with it: they turn on its day and its patient.",
    )


class SaidSerializer(serializers.Serializer):
    """What a label says when it is read in one way."""

    device_identifier = serializers.CharField(help_text="empty for a second symbol alone")
    catalogue_number = serializers.CharField()
    made_on = serializers.DateField(allow_null=True)
    expires_on = serializers.DateField(allow_null=True)
    batch = serializers.CharField()
    serial = serializers.CharField()
    quantity = serializers.IntegerField(allow_null=True)


class ArticleSerializer(serializers.ModelSerializer):
    """The listed article of a device identifier; a draft waits for somebody to say what it is."""

    class Meta:
        model = ImplantModel
        fields = ("kind", "description", "catalogue_number", "is_draft", "is_active")
        read_only_fields = fields


class WarningSerializer(serializers.Serializer):
    """What is told of a part; it never stops it from being saved."""

    code = serializers.CharField(
        help_text="recalled, serial_used, expired, no_batch or switched_off"
    )
    words = serializers.CharField()


class LabelReadingSerializer(SaidSerializer):
    """A label as it was read. Where it has doubts, a person chooses before anything is saved."""

    raw = serializers.CharField()
    issuer = serializers.CharField(help_text="gs1, hibc or iccbba")
    others = serializers.DictField(
        child=serializers.CharField(), help_text="by the code that the standard gives them"
    )
    notes = serializers.ListField(child=serializers.CharField())
    doubts = serializers.ListField(child=serializers.CharField())
    readings = SaidSerializer(many=True, help_text="other ways to read it: reading 1, 2 ...")
    article = ArticleSerializer(allow_null=True)
    warnings = WarningSerializer(many=True)


class LabelledPartSerializer(Strict, serializers.Serializer):
    """A part as its label says it, and what a person adds."""

    text = text_field()
    reading = serializers.IntegerField(
        min_value=0, max_value=20, required=False, help_text="0 as it reads, or one of `readings`"
    )
    sure = serializers.BooleanField(
        required=False, help_text="A person compared what is doubtful with the label."
    )
    kind = serializers.ChoiceField(choices=PartKind.choices, required=False)
    description = serializers.CharField(
        max_length=120, required=False, help_text="in generic words, for an article not yet listed"
    )
    quantity = serializers.IntegerField(min_value=1, max_value=40, required=False)
    batch = serializers.CharField(
        max_length=40, required=False, help_text="typed, where the label has none to be read"
    )
    batch_not_obtainable = serializers.BooleanField(required=False)
    kept_because = serializers.CharField(
        max_length=300, required=False, help_text="why it was kept with its warnings"
    )

    @staticmethod
    def given(sent: dict[str, Any]) -> LabelGiven:
        """Return a label as the service takes it."""
        return LabelGiven(**sent)


class LabelledPartsSerializer(Strict, serializers.Serializer):
    """Several parts by their labels: all are saved, or none."""

    labels = LabelledPartSerializer(many=True, allow_empty=False)

    def validate_labels(self, given: list[Any]) -> list[Any]:
        if len(given) > MOST_LABELS:
            told = f"These are {len(given)} labels; at most {MOST_LABELS} are taken at once."
            raise serializers.ValidationError(told)
        return given


@dataclass(frozen=True)
class Answered:
    """A label with what is known of its article."""

    label: Label
    article: ImplantModel | None
    warnings: tuple[Any, ...]

    def __getattr__(self, name: str) -> Any:
        """Give what the label says under the label's own names."""
        return getattr(self.label, name)

    @property
    def others(self) -> dict[str, str]:
        """Return the further data by their code."""
        return dict(self.label.others)


READING_EXAMPLES = [
    OpenApiExample(
        "A GS1 Data Matrix as a scanner sends it", value={"text": SCAN}, request_only=True
    ),
    OpenApiExample(
        "Two HIBC symbols of one label",
        value={"text": "+A123BJC5D6E71G\n+$$52001510X3GD"},
        request_only=True,
    ),
    OpenApiExample(
        "What the first says",
        value={
            "device_identifier": "09506000134352",
            "catalogue_number": "",
            "made_on": None,
            "expires_on": "2027-01-31",
            "batch": "LOT42A",
            "serial": "SN0042",
            "quantity": None,
            "raw": SCAN,
            "issuer": "gs1",
            "others": {},
            "notes": [],
            "doubts": [],
            "readings": [],
            "article": None,
            "warnings": [],
        },
        response_only=True,
    ),
]
LABELLED_EXAMPLE = OpenApiExample(
    "Two parts by their labels",
    value={
        "labels": [
            {"text": SCAN, "kind": "plate", "description": "lateral plate, 7 holes"},
            {"text": "+A999PLATE1230/$$3270131LOT42AL", "quantity": 4},
        ]
    },
    request_only=True,
)


class Labels(NotKept, ViewSet):
    """What an implant's label says. Nothing is saved by asking."""

    # A label is read and nothing is kept.
    reads_by_post = True
    permission_classes = [IsAuthenticated, Rights]

    def right(self) -> str:
        """Return the right that asking needs."""
        return "see_patient"

    @extend_schema(
        request=LabelTextSerializer,
        responses={200: LabelReadingSerializer},
        examples=READING_EXAMPLES,
    )
    def create(self, request: Request) -> Response:
        """Read a label's text: its fields, what is doubtful, and what is told of such a part."""
        sent = LabelTextSerializer(data=request.data, context={"request": request})
        sent.is_valid(raise_exception=True)
        try:
            label = udi.read_lines(sent.validated_data["text"], today=timezone.localdate())
        except LabelRefused as fault:
            raise BadInput({"text": str(fault)}) from fault
        operation = sent.validated_data.get("procedure")
        if operation is None:
            article = implant_models.by_identifier(label.device_identifier)
            found = Answered(label, article, ())
        else:
            (about,) = seen(request.user, operation, [Chosen(label)])
            found = Answered(label, about.model, about.warnings)
        return Response(LabelReadingSerializer(found).data)
