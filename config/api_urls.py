"""Every address of version 1 of the interface for machines."""

from django.urls import include, path
from drf_spectacular.views import SpectacularJSONAPIView, SpectacularYAMLAPIView

app_name = "api"
urlpatterns = [
    path("schema.json", SpectacularJSONAPIView.as_view(), name="schema"),
    path("schema.yaml", SpectacularYAMLAPIView.as_view(), name="schema-yaml"),
    path("", include("registry.api.urls")),
    path("", include("followup.api.urls")),
    path("", include("analytics.api.urls")),
]
