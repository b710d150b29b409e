from collections.abc import Mapping
from typing import Any

from django import forms

from registry.forms.base import CodedField, PartialDateField, PlainForm, choices_of
from registry.forms.measured import MeasuredField, MeasuringForm, initial_of
from registry.models.identities import Identity
from registry.models.injuries import (
    CLASS_CODES,
    ClassSystem,
    Demand,
    DominantArm,
    Energy,
    Injury,
    InjuryKind,
    Mechanism,
    OtherShoulder,
    Side,
    SkinState,
    Smoking,
    SportDemand,
    YesNo,
)
from registry.models.sites import Site
from registry.rules import dates

COLUMNS = (
    "kind",
    "side",
    "mechanism",
    "energy",
    "skin",
    "dominant_arm",
    "other_shoulder",
    "smoking",
    "diabetes",
    "bmi_kg_m2",
    "steroid_use",
    "osteoporosis",
    "work_demand",
    "sport_demand",
)
MEASURED = ("bmi_kg_m2",)
WHAT = ("kind", "side", "injury_date", "mechanism", "energy", "skin")
CLASSES = ("neer", "ao_ota", "rockwood")
SHOULDERS = ("dominant_arm", "other_shoulder")
RISKS = (
    "smoking",
    "diabetes",
    "bmi_kg_m2",
    "steroid_use",
    "osteoporosis",
    "work_demand",
    "sport_demand",
)


class InjuryForm(MeasuringForm):
    """One injured shoulder, its classes, and the risks at that time."""

    stands_at = {"age_years": "injury_date"}

    kind = forms.ChoiceField(label="Injury", choices=choices_of(InjuryKind))
    side = forms.ChoiceField(label="Side", choices=Side.choices, widget=forms.RadioSelect)
    injury_date = PartialDateField(label="Date of the injury")
    mechanism = CodedField("Mechanism", Mechanism)
    energy = CodedField("Energy", Energy)
    skin = CodedField("Open or closed", SkinState)
    dominant_arm = CodedField("Dominant arm", DominantArm)
    other_shoulder = CodedField("The other shoulder", OtherShoulder)
    smoking = CodedField("Smoking", Smoking)
    diabetes = CodedField("Diabetes", YesNo)
    bmi_kg_m2 = MeasuredField("Body mass index, kg/m2", decimals=1)
    steroid_use = CodedField("Takes steroids", YesNo)
    osteoporosis = CodedField("Osteoporosis", YesNo)
    work_demand = CodedField("Work", Demand)
    sport_demand = CodedField("Sport", SportDemand)

    def __init__(self, *args: Any, identity: Identity | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.identity = identity

    def judged(self) -> Mapping[str, Any]:
        """The age at injury is held to its limits too."""
        values = dict(super().judged())
        hurt: dates.Bounds | None = self.cleaned_data.get("injury_date")
        if hurt is not None and self.identity is not None:
            born = dates.Bounds(self.identity.birth_earliest, self.identity.birth_latest)
            if hurt.latest >= born.earliest:
                values["age_years"] = dates.age_on(born, hurt.latest)
        return values

    def values(self) -> dict[str, Any]:
        """Return the injury's columns."""
        hurt: dates.Bounds = self.cleaned_data["injury_date"]
        return {
            **self.row_values(COLUMNS),
            "injured_earliest": hurt.earliest,
            "injured_latest": hurt.latest,
        }


class NewInjuryForm(InjuryForm):
    """An injury that is recorded for the first time, with its classes."""

    neer = forms.ChoiceField(label="Neer", required=False)
    ao_ota = forms.ChoiceField(label="AO/OTA", required=False)
    rockwood = forms.ChoiceField(label="Rockwood", required=False)
    site = forms.ModelChoiceField(
        label="Treated at", queryset=Site.objects.none(), empty_label=None
    )

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites
        for system in CLASSES:
            self.fields[system].choices = _codes(system)

    def classes(self) -> dict[str, str]:
        """Return the codes that were chosen, by system."""
        chosen = {system: self.cleaned_data[system] for system in CLASSES}
        return {system: code for system, code in chosen.items() if code}


class CorrectInjuryForm(InjuryForm):
    """An injury that is corrected, with the reason."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(label="Why it is corrected", max_length=280)


class ClassifyForm(PlainForm):
    """A new opinion on the class of an injury."""

    system = forms.ChoiceField(label="System", choices=ClassSystem.choices)
    code = forms.ChoiceField(label="Class")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["code"].choices = [
            (str(ClassSystem(system).label), [(code, code) for code in codes])
            for system, codes in CLASS_CODES.items()
        ]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        system, code = cleaned.get("system"), cleaned.get("code")
        if system and code and code not in CLASS_CODES[system]:
            name = ClassSystem(system).label
            self.add_error("code", f"{name} has no class {code}; choose one of its own.")
        return cleaned


def initial_injury(row: Injury) -> dict[str, Any]:
    """Return an injury's values as its form starts from them."""
    hurt = dates.Bounds(row.injured_earliest, row.injured_latest)
    return {
        **initial_of(row, COLUMNS, MEASURED),
        "injury_date": dates.written(hurt),
        "version": row.version,
    }


def _codes(system: str) -> list[tuple[str, str]]:
    return [("", "not classified"), *((code, code) for code in CLASS_CODES[system])]
