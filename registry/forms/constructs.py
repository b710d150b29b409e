from typing import Any

from django import forms

from registry.forms.base import CodedField, DayField, PlainForm, choices_of
from registry.forms.measured import MeasuredField, MeasuringForm, initial_of
from registry.models.constructs import (
    Construct,
    ConstructType,
    FirstScrews,
    Graft,
    GuideWire,
    Knot,
    ShorterScrew,
)
from registry.models.implants import PartKind
from registry.models.injuries import YesNo
from registry.services.implants import PartGiven

PLATE = (
    "plate_holes",
    "lateral_screw_count",
    "lateral_screw_diameter_mm",
    "lateral_drill_mm",
    "lateral_screws_locking",
    "shaft_screw_count",
    "shaft_screw_diameter_mm",
    "shaft_drill_mm",
    "shaft_cortices",
    "first_two_screws",
    "guide_wire_clear",
    "shorter_screw_chosen",
)
SUSPENSION = (
    "anchor_count",
    "button_count",
    "free_slots_count",
    "retainer_count",
    "suture_kind",
    "knot",
    "half_hitch_count",
    "graft",
)
COLUMNS = ("construct_type", *PLATE, *SUSPENSION)
MEASURED = tuple(
    name for name in COLUMNS if name.endswith(("_count", "_mm", "_holes", "_cortices"))
)


class ConstructForm(MeasuringForm):
    """What was implanted, as a whole. A departure's reason is asked for once and never forced."""

    construct_type = forms.ModelChoiceField(
        label="Construct type", queryset=ConstructType.objects.none(), empty_label="choose"
    )
    plate_holes = MeasuredField("Plate length, holes")
    lateral_screw_count = MeasuredField("Lateral screws")
    lateral_screw_diameter_mm = MeasuredField("Lateral screw diameter, mm", decimals=1)
    lateral_drill_mm = MeasuredField("Drill for lateral screws, mm", decimals=1)
    lateral_screws_locking = CodedField("Lateral screws locking", YesNo)
    shaft_screw_count = MeasuredField("Shaft screws")
    shaft_screw_diameter_mm = MeasuredField("Shaft screw diameter, mm", decimals=1)
    shaft_drill_mm = MeasuredField("Drill for shaft screws, mm", decimals=1)
    shaft_cortices = MeasuredField("Cortices held in the shaft")
    first_two_screws = CodedField("First two screws", FirstScrews)
    guide_wire_clear = CodedField("Wire in the lateral guide hole, on the film", GuideWire)
    shorter_screw_chosen = CodedField("Between two screw lengths", ShorterScrew)
    anchor_count = MeasuredField("Anchors in the coracoid")
    button_count = MeasuredField("Buttons")
    free_slots_count = MeasuredField("Slots left free above the coracoid")
    retainer_count = MeasuredField("Suture retainers")
    suture_kind = forms.CharField(label="Suture, in generic words", max_length=60, required=False)
    knot = CodedField("Knot", Knot)
    half_hitch_count = MeasuredField("Half hitches after the surgeon's knot")
    graft = CodedField("Graft", Graft)

    def __init__(self, *args: Any, types: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["construct_type"].queryset = types

    def values(self) -> dict[str, Any]:
        """Return the construct's columns."""
        return self.row_values(COLUMNS)

    def so_far(self) -> dict[str, Any]:
        """Return what can be read of a form that is still being filled in."""
        self.is_valid()
        values = self.row_values([name for name in COLUMNS if name in self.cleaned_data])
        return {name: value for name, value in values.items() if name in COLUMNS}


class CorrectConstructForm(ConstructForm):
    """A construct that is corrected, with the reason."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(label="Why it is corrected", max_length=280)


class PartForm(PlainForm):
    """One implanted part. A line without a kind is empty."""

    kind = forms.ChoiceField(label="Part", choices=choices_of(PartKind, "no part"), required=False)
    description = forms.CharField(label="In generic words", max_length=120, required=False)
    catalogue_number = forms.CharField(label="Catalogue number", max_length=40, required=False)
    device_identifier = forms.CharField(label="Device identifier", max_length=40, required=False)
    quantity = forms.IntegerField(label="How many", min_value=1, max_value=40, required=False)
    batch = forms.CharField(label="Batch", max_length=40, required=False)
    serial = forms.CharField(label="Serial number", max_length=40, required=False)
    expires_on = DayField(label="Expires on", required=False)
    raw_identifier = forms.CharField(label="Label as scanned", max_length=200, required=False)
    batch_not_obtainable = forms.BooleanField(label="Batch not obtainable", required=False)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        filled = any(value for name, value in cleaned.items() if name not in ("kind", "quantity"))
        if filled and not cleaned.get("kind"):
            self.add_error("kind", "Say what kind of part this is.")
        if cleaned.get("kind") and not cleaned.get("description"):
            self.add_error("description", "Describe the part, for example: 2.3 mm locking screw.")
        if cleaned.get("batch") and cleaned.get("batch_not_obtainable"):
            self.add_error("batch", "A batch is given and said to be not obtainable; keep one.")
        return cleaned

    def given(self) -> PartGiven | None:
        """Return the part, None for an empty line."""
        if not self.cleaned_data.get("kind"):
            return None
        return PartGiven(**{**self.cleaned_data, "quantity": self.cleaned_data["quantity"] or 1})


PartFormSet = forms.formset_factory(PartForm, extra=3)


def initial_construct(row: Construct) -> dict[str, Any]:
    """Return a construct's values as its form starts from them."""
    return {**initial_of(row, COLUMNS, MEASURED), "version": row.version}
