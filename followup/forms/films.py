from typing import Any

from django import forms

from followup.forms.findings import FindingsForm
from followup.models.films import (
    CALIBRATED,
    Calibration,
    Film,
    HardwareOnFilm,
    Posture,
    Union,
    View,
)
from registry.forms.base import DayField, PlainForm, choices_of
from registry.forms.measured import Measured, MeasuredField
from registry.models.injuries import YesNo
from registry.rules.missing import NOT_APPLICABLE

DISTANCES = ("ccd_injured_mm", "ccd_other_mm", "ccd_side_ratio_pct")
MEASURED = (*DISTANCES, "translation_pct")
READING = (*MEASURED, "union", "hardware")


class CorrectFilmForm(PlainForm):
    """What a film is, corrected with the reason."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    taken_on = DayField(label="Taken on")
    view = forms.ChoiceField(label="View", choices=choices_of(View))
    posture = forms.ChoiceField(label="Posture", choices=choices_of(Posture))
    weighted = forms.ChoiceField(label="Weighted", choices=choices_of(YesNo))
    shows_both_sides = forms.BooleanField(label="It shows both shoulders", required=False)
    calibration = forms.ChoiceField(label="Calibrated by", choices=choices_of(Calibration))
    reason = forms.CharField(label="Why it is corrected", max_length=280)

    def values(self) -> dict[str, Any]:
        """Return the columns of the film."""
        beside = ("version", "reason")
        return {name: value for name, value in self.cleaned_data.items() if name not in beside}


class ReadingForm(FindingsForm):
    """What one reader measures on one film; it asks only for what that film can show."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    ccd_injured_mm = MeasuredField("CC distance, injured side, mm", decimals=1)
    ccd_other_mm = MeasuredField("CC distance, other side, mm", decimals=1)
    ccd_side_ratio_pct = MeasuredField(
        "CC distance against the other side, %",
        decimals=1,
        help_text="0 where both are alike, 50 where the injured side is half as much again.",
    )
    translation_pct = MeasuredField(
        "Translation, % of the shaft", help_text="May be left empty where nothing is displaced."
    )
    union = forms.ChoiceField(
        label="Union",
        choices=choices_of(Union),
        required=False,
        help_text="Needed. Left open where cortices are counted, it is proposed by the site's rule.",
    )
    hardware = forms.ChoiceField(
        label="Hardware on the film",
        choices=choices_of(HardwareOnFilm),
        required=False,
        help_text="Needed. Left open, it follows from the findings where they say it.",
    )

    def __init__(self, *args: Any, film: Film, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        calibrated = film.calibration in CALIBRATED
        possible = {
            "ccd_injured_mm": calibrated,
            "ccd_other_mm": calibrated and film.shows_both_sides,
            # On a calibrated film the ratio follows from the two lengths.
            "ccd_side_ratio_pct": not calibrated and film.shows_both_sides,
        }
        for name, there in possible.items():
            if not there:
                del self.fields[name]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for name in DISTANCES:
            if name in self.fields and cleaned.get(name) == Measured() and name not in self.errors:
                self.add_error(name, "Write the number, or say beside it why it is missing.")
        return cleaned

    def reading(self) -> dict[str, Any]:
        """Return the columns of the reading; what the film cannot show is not applicable."""
        values = self.row_values(name for name in READING if name in self.fields)
        absent = {name: NOT_APPLICABLE for name in DISTANCES if name not in self.fields}
        bridging = self.bridging()
        missing = {**absent, **values["missing"], **bridging["missing"]}
        return {**values, **bridging, "missing": missing}
