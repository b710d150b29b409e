from django import forms

from registry.forms.base import PlainForm
from registry.models.implants import PartKind

IMPLANT_MODEL = (
    "kind",
    "description",
    "device_identifier",
    "catalogue_number",
    "plate_holes",
    "screw_diameter_mm",
    "is_active",
)


class ImplantModelForm(PlainForm):
    """An article that parts can be, in generic words."""

    version = forms.IntegerField(widget=forms.HiddenInput, initial=1)
    kind = forms.ChoiceField(label="Part", choices=PartKind.choices)
    description = forms.CharField(
        label="In generic words", max_length=120, help_text="For example: locking screw 2.3 mm."
    )
    device_identifier = forms.CharField(
        label="Device identifier",
        max_length=40,
        required=False,
        help_text="As on the label: 8 to 14 digits, or the letters and digits after '+'.",
    )
    catalogue_number = forms.CharField(label="Catalogue number", max_length=40, required=False)
    plate_holes = forms.IntegerField(
        label="Holes of the plate", min_value=1, max_value=30, required=False
    )
    screw_diameter_mm = forms.DecimalField(
        label="Diameter of the screw, mm",
        max_digits=3,
        decimal_places=1,
        min_value=1,
        max_value=9,
        required=False,
        help_text="Screws of 2.3 mm and less count as lateral ones.",
    )
    is_active = forms.BooleanField(label="Used here", required=False, initial=True)

    def clean(self) -> dict[str, object]:
        cleaned: dict[str, object] = super().clean() or {}
        for name, kind in (("plate_holes", "plate"), ("screw_diameter_mm", "screw")):
            if cleaned.get(name) is not None and cleaned.get("kind") != kind:
                self.add_error(name, f"This is of a {kind} alone; leave it empty.")
        return cleaned


class JoinForm(PlainForm):
    """Which listed article a draft is another identifier of."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    known = forms.IntegerField(widget=forms.HiddenInput)
