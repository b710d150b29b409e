"""Addresses of the FHIR R4 interface."""

from django.urls import path, re_path

from followup.api.fhir.base import Unknown
from followup.api.fhir.exporting import ExportFile, KickOff, PatientKickOff, Status
from followup.api.fhir.reading import Metadata, Read, Search, SearchByForm
from followup.api.fhir.taking import Transaction

app_name = "fhir"
KIND = "(?P<kind>[A-Z][A-Za-z]{2,40})"
urlpatterns = [
    path("", Transaction.as_view(), name="transaction"),
    path("metadata", Metadata.as_view(), name="metadata"),
    path("$export", KickOff.as_view(), name="export"),
    path("Patient/$export", PatientKickOff.as_view(), name="patient-export"),
    path("$export-status/<uuid:uuid>", Status.as_view(), name="export-status"),
    re_path(
        r"^\$export-file/(?P<uuid>[0-9a-f-]{36})/(?P<kind>[A-Za-z]+)(?P<errors>-errors)?\.ndjson$",
        ExportFile.as_view(),
        name="export-file",
    ),
    re_path(rf"^{KIND}/?$", Search.as_view(), name="search"),
    re_path(rf"^{KIND}/_search$", SearchByForm.as_view(), name="search-form"),
    re_path(rf"^{KIND}/(?P<key>[A-Za-z0-9.-]{{1,64}})$", Read.as_view(), name="read"),
    re_path(r"^", Unknown.as_view(), name="unknown"),
]
