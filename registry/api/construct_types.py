from django_filters import rest_framework as filters
from rest_framework import serializers

from registry.api.resources import Resource
from registry.models.constructs import ConstructType

COLUMNS = (
    "code",
    "name",
    "family",
    "planned_removal",
    "removal_opens_weeks",
    "removal_due_weeks",
    "uses_small_lateral_screws",
    "source_note",
    "is_active",
    "version",
)


class ConstructTypeSerializer(serializers.ModelSerializer):
    """A kind of construct; its code is what constructs name and rates are grouped by."""

    class Meta:
        model = ConstructType
        fields = COLUMNS
        read_only_fields = COLUMNS


class ConstructTypeFilter(filters.FilterSet):
    class Meta:
        model = ConstructType
        fields = ("family", "is_active")


class ConstructTypes(Resource):
    """Construct types by code, as they are set up; only an administrator changes them, in Setup."""

    model = ConstructType
    serializer_class = ConstructTypeSerializer
    filterset_class = ConstructTypeFilter
    see = "use_api"
    lookup_field = "code"
    lookup_value_converter = "str"
    joined = ()
    http_method_names = ["get", "head", "options"]
