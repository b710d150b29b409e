"""What lists can be narrowed by: site, patient, and what changed since a moment."""

from datetime import UTC, datetime

from django import forms
from django_filters import rest_framework as filters
from django_filters.fields import IsoDateTimeField


class MomentField(IsoDateTimeField):
    """A moment in universal time: a database takes fewer offsets than one can write."""

    def to_python(self, value: object) -> datetime | None:
        moment: datetime | None = super().to_python(value)
        try:
            return moment.astimezone(UTC) if moment is not None else None
        except OverflowError as fault:
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid") from fault


class MomentFilter(filters.IsoDateTimeFilter):
    """A filter by a moment."""

    field_class = MomentField


class RowFilter(filters.FilterSet):
    """Every clinical row: at one site, or changed since a moment, as a copy elsewhere asks."""

    site = filters.CharFilter(field_name="site__code", help_text="code of a site")
    changed_since = MomentFilter(
        field_name="changed_at", lookup_expr="gte", help_text="rows changed at or after a moment"
    )


def days(field: str, lookup: str) -> filters.DateFilter:
    """Return a filter by one end of a span of days."""
    return filters.DateFilter(field_name=field, lookup_expr=lookup)


def patient(way: str) -> filters.CharFilter:
    """Return a filter by the key of a patient, found along a way from the row."""
    return filters.CharFilter(field_name=f"{way}__key", help_text="key of a patient")
