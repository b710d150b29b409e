from typing import Any

from django.db.models import Prefetch, QuerySet
from django.http import Http404, HttpResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.parsers import JSONParser, MultiPartParser
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from followup.models.calibrations import ImageCalibration
from followup.models.images import FilmImage, IncomingImage
from followup.rules import calibration
from followup.selectors.images import images_seen_by, waiting_images
from followup.selectors.visible import visible
from followup.services import images as service
from followup.views.images import answer_with
from registry.api.filters import RowFilter, patient
from registry.api.resources import Resource
from registry.api.rows import ROW, RowSerializer, TheirsByWordField
from registry.errors import BadInput
from registry.models.sites import Site

PICTURE = (
    *("kind", "content_hash", "rows", "columns", "frames", "facts"),
    *("least", "most", "shown_low", "shown_high", "painted"),
)


class PngRenderer(JSONRenderer):
    """Lets a program ask for a picture, with which the act answers by itself; refusals stay JSON."""

    media_type = "image/png"
    format = "png"


class ScaleSerializer(serializers.ModelSerializer):
    """How large a pixel is in mm, between rows and between columns, and where that is known from."""

    told = serializers.SerializerMethodField(help_text="where it is known from, in words")
    true_mm = serializers.SerializerMethodField(
        help_text="whether these are millimetres of the patient; if not, only ratios hold"
    )

    class Meta:
        model = ImageCalibration
        fields = (
            *("id", "version", "how", "mm_per_pixel_row", "mm_per_pixel_column", "aspect"),
            *("facts", "told", "true_mm"),
        )
        read_only_fields = fields

    def get_told(self, row: ImageCalibration) -> str:
        """Return where it is known from."""
        return calibration.words(row.scale)

    def get_true_mm(self, row: ImageCalibration) -> bool:
        """Say whether lengths may be told in mm."""
        return row.scale.is_true


class FilmImageSerializer(RowSerializer):
    """A picture of a film, with the calibration that holds; its frames are PNG files."""

    patient = serializers.CharField(source="film.injury.patient.key", read_only=True)
    calibration = serializers.SerializerMethodField()

    class Meta:
        model = FilmImage
        fields = (*ROW, "patient", "film", *PICTURE, "calibration")
        read_only_fields = fields

    @extend_schema_field(ScaleSerializer(allow_null=True))
    def get_calibration(self, row: FilmImage) -> Any:
        """Return the calibration that no other has superseded."""
        # The checker of types does not see the way back from a calibration to its picture.
        held = next(iter(getattr(row, "held_calibrations", ())), None)
        return None if held is None else ScaleSerializer(held).data


class FilmImageFilter(RowFilter):
    patient = patient("film__injury__patient")

    class Meta:
        model = FilmImage
        fields = ("film",)


class FilmImages(Resource):
    """Pictures of films; a new one comes in under `films-in` and waits for a person there."""

    model = FilmImage
    serializer_class = FilmImageSerializer
    filterset_class = FilmImageFilter
    visible = staticmethod(visible)
    see = "see_films"
    joined = (*Resource.joined, "film__injury__patient")
    gathered = (
        Prefetch(
            "calibrations",
            ImageCalibration.objects.exclude(superseded_by__isnull=False),
            to_attr="held_calibrations",
        ),
    )
    http_method_names = ["get", "head", "options"]

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):
            return rows
        return rows.filter(pk__in=images_seen_by(self.request.user).values("pk"))

    @extend_schema(
        parameters=[
            OpenApiParameter("low", OpenApiTypes.FLOAT, description="the value shown black"),
            OpenApiParameter("high", OpenApiTypes.FLOAT, description="the value shown white"),
            OpenApiParameter("small", OpenApiTypes.STR, description="yes: a small JPEG instead"),
        ],
        responses={(200, "image/png"): OpenApiTypes.BINARY},
    )
    @action(
        detail=True,
        url_path="frames/<int:number>",
        renderer_classes=[PngRenderer, JSONRenderer],
    )
    def frame(self, request: Request, pk: int, number: int) -> HttpResponse:
        """Return one frame, the first is 1, as it is shown in the browser."""
        image = self.get_object()
        if not 1 <= number <= image.frames:
            raise Http404
        return answer_with(request._request, image, number)


class FilmInSerializer(RowSerializer):
    """A picture that waits for a person to say whose it is. Whom its header names is not told."""

    site = TheirsByWordField(
        slug_field="code",
        queryset=Site.objects.all(),
        right="take_in_films",
        help_text="code of the site to which the film belongs",
    )
    file = serializers.FileField(write_only=True, help_text="DICOM, PNG or JPEG")

    class Meta:
        model = IncomingImage
        fields = (*ROW, *PICTURE, "burnt_in", "view", "posture", "file")
        read_only_fields = tuple(name for name in fields if name not in ("site", "file"))


class FilmInFilter(RowFilter):
    class Meta:
        model = IncomingImage
        fields = ("burnt_in",)


class FilmsIn(Resource):
    """Pictures that came in and wait; they are given to a patient by a person, never by a program."""

    model = IncomingImage
    serializer_class = FilmInSerializer
    filterset_class = FilmInFilter
    visible = staticmethod(visible)
    see = "take_in_films"
    parser_classes = [MultiPartParser, JSONParser]
    http_method_names = ["get", "post", "head", "options"]

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):
            return rows
        return rows.filter(pk__in=waiting_images(self.request.user).values("pk"))

    def create(self, request: Request) -> Response:
        """Send one film as a form with `site` and `file`; it is examined, and names are taken out."""
        given = self.given().validated_data
        file = given["file"]
        try:
            row = service.take_in_one(
                site=given["site"],
                content=file,
                file_name=str(file.name),
                by=request.user,
                now=timezone.now(),
            )
        except BadInput as fault:
            raise BadInput({"file": str(fault)}) from fault
        return self.saved(row, 201)
