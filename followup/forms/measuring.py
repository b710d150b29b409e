from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from followup.forms.films import DISTANCES, ReadingForm
from followup.models.calibrations import CalibratedBy
from followup.models.images import FilmImage
from followup.rules import calibration, landmarks
from followup.rules.calibration import PixelScale
from followup.rules.geometry import Point
from registry.forms.base import PlainForm

MOST_ON_RIM = 60


class PointWidget(forms.MultiWidget):
    """Two numbers: the column and the row of a mark."""

    template_name = "followup/widgets/point.html"
    use_fieldset = True

    def __init__(self) -> None:
        number = {"step": "0.1", "min": "0", "inputmode": "decimal"}
        super().__init__({name: forms.NumberInput(attrs=number) for name in ("x", "y")})

    def decompress(self, value: Point | None) -> list[Any]:
        return [round(value[0], 1), round(value[1], 1)] if value else [None, None]


class PointField(forms.MultiValueField):
    """Where a mark stands, as (column, row) in pixels; None where it is not marked."""

    def __init__(self, label: str) -> None:
        super().__init__(
            fields=(forms.FloatField(required=False), forms.FloatField(required=False)),
            widget=PointWidget,
            require_all_fields=False,
            required=False,
            label=label,
        )

    def compress(self, data_list: list[Any]) -> Point | None:
        given = [one for one in data_list or [] if one is not None]
        if len(given) == 1:
            raise forms.ValidationError("Write both the column and the row, or neither.")
        return (given[0], given[1]) if given else None


class MeasureForm(ReadingForm):
    """A reading whose distances come from marks on the picture instead of being typed."""

    stands_at: Mapping[str, str] = {
        "ccd_injured_mm": "clavicle_under_injured",
        "ccd_other_mm": "clavicle_under_other",
        "ccd_side_ratio_pct": "clavicle_under_injured",
        "acd_injured_mm": "clavicle_level_injured",
        "acd_other_mm": "clavicle_level_other",
    }

    def __init__(self, *args: Any, image: FilmImage, scale: PixelScale, **kwargs: Any) -> None:
        super().__init__(*args, film=image.film, **kwargs)
        self.image, self.scale = image, scale
        for name in DISTANCES:
            self.fields.pop(name, None)
        self.names = landmarks.names(both_sides=image.film.shows_both_sides)
        for name, words in self.names.items():
            self.fields[name] = PointField(words[0].upper() + words[1:])
            self.initial.setdefault(name, (kwargs.get("initial") or {}).get(name))

    def marks(self) -> list[Any]:
        """Return the fields of the landmarks, in the order in which they are marked."""
        return [self[name] for name in self.names]

    def beside(self) -> list[Any]:
        """Return the shown fields that are no landmarks."""
        return [field for field in self.typed() if field.name not in self.names]

    def points(self) -> dict[str, Point]:
        """Return where the marks stand."""
        given = {name: self.cleaned_data.get(name) for name in self.names}
        return {name: at for name, at in given.items() if at is not None}

    def faults(self) -> dict[str, str]:
        """Return what is missing or impossible, by landmark."""
        return landmarks.faults(
            self.points(),
            rows=self.image.rows,
            columns=self.image.columns,
            both_sides=self.image.film.shows_both_sides,
            scale=self.scale,
        )

    def judged(self) -> Mapping[str, Any]:
        typed = super().judged()
        if set(self.names) & set(self.errors) or self.faults():
            return typed
        measures = landmarks.measure(self.points(), self.scale)
        return {
            **typed,
            "ccd_injured_mm": measures.injured.ccd_mm,
            "ccd_other_mm": measures.other.ccd_mm,
            "ccd_side_ratio_pct": measures.ratio_pct,
            "acd_injured_mm": measures.injured.acd_mm,
            "acd_other_mm": measures.other.acd_mm,
        }

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not set(self.names) & set(self.errors):
            for name, message in self.faults().items():
                self.add_error(name if name in self.fields else None, message)
        return cleaned

    def reading(self) -> dict[str, Any]:
        """Return the columns of the reading that are not measured on the picture."""
        values = super().reading()
        absent = {name: why for name, why in values["missing"].items() if name not in DISTANCES}
        return {**values, "missing": absent}


class CalibrationForm(PlainForm):
    """How large a pixel is: as the file says, by a marker, or not known."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    how = forms.ChoiceField(label="Where is the size of a pixel known from?")
    diameter_mm = forms.DecimalField(
        label="Diameter of the marker, mm",
        max_digits=5,
        decimal_places=2,
        required=False,
        help_text="Only for a marker: the true diameter of the ball or disc.",
    )
    rim = forms.CharField(
        label="Points on the marker's rim",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4, "data-rim": ""}),
        help_text="Only for a marker: column and row of each point, one point on a line.",
    )

    def __init__(self, *args: Any, offers: tuple[PixelScale, ...], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        ways = [offer.how for offer in offers] + [calibration.MARKER, calibration.NONE]
        self.fields["how"].choices = [
            *([("", "choose")] if not self.initial.get("how") else []),
            *((how, CalibratedBy(how).label) for how in ways),
        ]

    def clean_rim(self) -> list[Point]:
        points = []
        for number, line in enumerate(self.cleaned_data["rim"].splitlines(), 1):
            parts = line.replace(",", " ").replace(";", " ").split()
            if not parts:
                continue
            try:
                x, y = (float(part) for part in parts)
            except ValueError as fault:
                raise forms.ValidationError(
                    f"Line {number} is not a column and a row: '{line[:40]}'."
                ) from fault
            points.append((x, y))
        if len(points) > MOST_ON_RIM:
            raise forms.ValidationError(f"At most {MOST_ON_RIM} points; a dozen is plenty.")
        return points

    def clean_diameter_mm(self) -> float | None:
        given: Decimal | None = self.cleaned_data["diameter_mm"]
        return None if given is None else float(given)
