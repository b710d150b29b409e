"""Addresses of the analytics."""

from django.urls import path

from analytics.views import (
    comparison,
    definitions,
    enough,
    following,
    harms,
    outcomes,
    snapshots,
    strips,
)

urlpatterns = [
    path("outcomes/", outcomes.outcomes, name="outcomes"),
    path("outcomes/table.csv", outcomes.outcomes_csv, name="outcomes-csv"),
    path("outcomes/definitions.csv", strips.strip_csv, name="outcomes-definitions-csv"),
    path("outcomes/compare/", comparison.compare, name="compare"),
    path("outcomes/compare/table.csv", comparison.compare_csv, name="compare-csv"),
    path("outcomes/cases/", outcomes.cases, name="outcomes-cases"),
    path("harms/", harms.harms, name="harms"),
    path("harms/table.csv", harms.harms_csv, name="harms-csv"),
    path("harms/burden.csv", harms.burden_csv, name="harms-burden-csv"),
    path("harms/afterwards.csv", harms.later_csv, name="harms-later-csv"),
    path("harms/hardware.csv", harms.hardware_csv, name="harms-hardware-csv"),
    path("outcomes/following/", following.following, name="following"),
    path("outcomes/following/table.csv", following.following_csv, name="following-csv"),
    path("outcomes/following/cases/", following.following_cases, name="following-cases"),
    path("outcomes/enough/", enough.enough, name="enough"),
    path("outcomes/enough/table.csv", enough.enough_csv, name="enough-csv"),
    path("outcomes/snapshots/", snapshots.snapshots, name="snapshots"),
    path("outcomes/snapshots/refresh/", snapshots.refresh, name="snapshots-refresh"),
    path("setup/definitions/", definitions.definitions, name="setup-definitions"),
    path(
        "setup/definitions/<int:site_id>/<slug:endpoint>/",
        definitions.definition,
        name="setup-definition",
    ),
]
