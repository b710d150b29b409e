"""How rows are written as JSON and read from it: links, kinds of missing, unusual values, reasons."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db.models import QuerySet
from rest_framework import serializers

from registry.rules import missing, plausibility
from registry.selectors.visible import visible

ROW = ("id", "site", "version", "recorded_at", "recorded_by", "changed_at", "changed_by")
CHECKED = "Say true to keep unusual values; they are flagged. Impossible ones are refused."
MISSING = "Why a measured field is empty: field name to unknown, not_done or not_applicable."


class Strict:
    """Refuses a field that it does not have: a misspelt one would be lost without a word."""

    def to_internal_value(self, data: Any) -> Any:
        known: Mapping[str, Any] = self.fields
        unknown = sorted(set(data) - set(known)) if isinstance(data, Mapping) else []
        if unknown:
            told = f"There is no such field; there are {', '.join(known)}."
            raise serializers.ValidationError(dict.fromkeys(unknown, told))
        return super().to_internal_value(data)  # type: ignore[misc]  # of the class it is mixed into


class Theirs:
    """A link to a row that the person may see for an act; another's is as if it were not there."""

    def __init__(self, *, right: str, **kwargs: Any) -> None:
        self.right = right
        super().__init__(**kwargs)

    def get_queryset(self) -> QuerySet[Any]:
        rows: QuerySet[Any] = self.queryset
        request = self.context.get("request")
        return rows if request is None else visible(request.user, rows.model, self.right)


class TheirsField(Theirs, serializers.PrimaryKeyRelatedField):
    """A link by number."""


class TheirsByWordField(Theirs, serializers.SlugRelatedField):
    """A link by a word: the key of a patient, the code of a site."""


def shown_by(word: str) -> Any:
    """Return a field that shows a linked row by one of its words."""
    told = {"username": "user name"}.get(word, word)
    return serializers.SlugRelatedField(slug_field=word, read_only=True, help_text=told)


class RowSerializer(Strict, serializers.ModelSerializer):
    """A clinical row. What it stands on is given once, when it is recorded, and stays.

    `columns` are the values that a service takes; of these `measured` may be missing in a named way.
    """

    site = shown_by("code")
    recorded_by = shown_by("username")
    changed_by = shown_by("username")
    columns: ClassVar[tuple[str, ...]] = ()
    measured: ClassVar[tuple[str, ...]] = ()
    fixed: ClassVar[tuple[str, ...]] = ()

    def values(self) -> dict[str, Any]:
        """Return the columns that were given, for a service."""
        kept = (*self.columns, "missing", "flags")
        return {name: value for name, value in self.validated_data.items() if name in kept}

    def judged(self, given: Mapping[str, Any]) -> Mapping[str, Any]:
        """Return the values that are held to limits; a subclass adds what is derived from them."""
        return given

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        self._fixed_stay(attrs)
        self._reason_given(attrs)
        checked = attrs.pop("checked", False)
        if self.measured:
            attrs["missing"] = self._missing(attrs)
        if "checked" in self.fields:
            attrs["flags"] = self._flags(attrs, checked=checked)
        return attrs

    def _fixed_stay(self, attrs: Mapping[str, Any]) -> None:
        if self.instance is None:
            return
        faults = {
            name: "This stays as it was recorded; void the row where it is wrong."
            for name in self.fixed
            if name in attrs and attrs[name] != getattr(self.instance, name)
        }
        if faults:
            raise serializers.ValidationError(faults)

    def _reason_given(self, attrs: Mapping[str, Any]) -> None:
        of_the_row = "reason" in self.columns or "reason" not in self.fields
        if self.instance is not None and not of_the_row and not attrs.get("reason"):
            raise serializers.ValidationError({"reason": "Say why this is corrected."})

    def _missing(self, attrs: Mapping[str, Any]) -> dict[str, str]:
        """Join the kinds of missing that were given with those of the row, less what has a value now."""
        stood = dict(self.instance.missing) if self.instance is not None else {}
        kinds = dict(attrs.get("missing", stood))
        if "missing" not in attrs:
            kinds = {name: kind for name, kind in kinds.items() if attrs.get(name) is None}
        faults = {
            name: "This is not a measured field; its own values say unknown."
            for name in kinds
            if name not in self.measured
        }
        now = {name: self._now(name, attrs) for name in self.measured}
        faults.update(missing.faults(kinds, now))
        if faults:
            told = [f"{name}: {text}" for name, text in faults.items()]
            raise serializers.ValidationError({"missing": told})
        return kinds

    def _now(self, name: str, attrs: Mapping[str, Any]) -> Any:
        return attrs[name] if name in attrs else getattr(self.instance, name, None)

    def _flags(self, attrs: Mapping[str, Any], *, checked: bool) -> list[str]:
        judged = self.judged(attrs)
        stood = self.instance.flags if self.instance is not None else []
        flags = [name for name in stood if name not in judged]
        faults: dict[str, str] = {}
        for finding in plausibility.judge(judged):
            if finding.impossible or not checked:
                faults[finding.field] = finding.message.capitalize()
            else:
                flags.append(finding.field)
        if faults:
            raise serializers.ValidationError(faults)
        return flags


def checked_field() -> serializers.BooleanField:
    """Return the field that says: I have looked at the unusual values."""
    return serializers.BooleanField(write_only=True, required=False, help_text=CHECKED)


def missing_field() -> serializers.DictField:
    """Return the field that says in which way measured values are missing."""
    kind = serializers.ChoiceField(choices=list(missing.KINDS.items()))
    return serializers.DictField(child=kind, required=False, help_text=MISSING)


def reason_field() -> serializers.CharField:
    """Return the field that says why a row is corrected; kept in the trail."""
    return serializers.CharField(
        write_only=True, required=False, max_length=280, help_text="Needed for a correction."
    )
