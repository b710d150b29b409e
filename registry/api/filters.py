"""What lists can be narrowed by: site, patient, and what changed since a moment."""

from django_filters import rest_framework as filters


class RowFilter(filters.FilterSet):
    """Every clinical row: at one site, or changed since a moment, as a copy elsewhere asks."""

    site = filters.CharFilter(field_name="site__code", help_text="code of a site")
    changed_since = filters.IsoDateTimeFilter(
        field_name="changed_at", lookup_expr="gte", help_text="rows changed at or after a moment"
    )


def days(field: str, lookup: str) -> filters.DateFilter:
    """Return a filter by one end of a span of days."""
    return filters.DateFilter(field_name=field, lookup_expr=lookup)


def patient(way: str) -> filters.CharFilter:
    """Return a filter by the key of a patient, found along a way from the row."""
    return filters.CharFilter(field_name=f"{way}__key", help_text="key of a patient")
