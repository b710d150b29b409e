import itertools
from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms

from followup.models.films import View
from followup.models.protocols import OffsetUnit, ProtocolStep
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.rules.steps import HORIZONS
from followup.rules.windows import MAX_OFFSET, MAX_WINDOW_DAYS, add_offset, check_steps
from followup.services.protocols import plan_of
from registry.forms.base import DayField, PlainForm
from registry.models.constructs import ConstructType
from registry.models.sites import Site

STEP = (
    "code",
    "name",
    "offset_value",
    "offset_unit",
    "window_before_days",
    "window_after_days",
    "film_views",
    "other_side_film",
    "motion",
    "scores",
    "wound_check",
    "complication_screen",
    "horizon",
    "source_note",
)
MOST_STEPS = 30


class VersionForm(PlainForm):
    """A new version of a protocol: from when, and what it changes on whose authority."""

    version = forms.IntegerField(widget=forms.HiddenInput, initial=0)
    effective_from = DayField(
        label="For operations from", help_text="Reviews that are planned already stay as they are."
    )
    source_note = forms.CharField(
        label="What changes, and on whose authority",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="For example: film at 2 weeks added; shoulder surgeons' meeting of May 2026.",
    )


class OwnProtocolForm(VersionForm):
    """A site's own protocol, begun from the steps of another."""

    name = forms.CharField(label="Name of the protocol", max_length=80)
    site = forms.ModelChoiceField(label="Site", queryset=Site.objects.none(), empty_label=None)
    construct_type = forms.ModelChoiceField(
        label="Construct type",
        queryset=ConstructType.objects.all(),
        required=False,
        empty_label="every construct without its own",
    )
    field_order = ("version", "name", "site", "construct_type", "effective_from", "source_note")

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites


class StepForm(PlainForm):
    """One timepoint of a protocol."""

    code = forms.SlugField(
        label="Code",
        max_length=12,
        help_text="Short, such as 6w; a step keeps its code from version to version.",
    )
    name = forms.CharField(label="Name", max_length=60)
    offset_value = forms.IntegerField(label="Due after", min_value=0, max_value=MAX_OFFSET)
    offset_unit = forms.ChoiceField(label="Unit", choices=OffsetUnit.choices, initial="weeks")
    window_before_days = forms.IntegerField(
        label="Opens days before", min_value=0, max_value=MAX_WINDOW_DAYS
    )
    window_after_days = forms.IntegerField(
        label="Closes days after", min_value=0, max_value=MAX_WINDOW_DAYS
    )
    film_views = forms.MultipleChoiceField(
        label="Films",
        choices=View.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    other_side_film = forms.BooleanField(label="Film of the other side as well", required=False)
    motion = forms.BooleanField(label="Motion", required=False)
    scores = forms.MultipleChoiceField(
        label="Scores",
        choices=[(code, row.name) for code, row in INSTRUMENTS.items()],
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    wound_check = forms.BooleanField(label="Wound check", required=False)
    complication_screen = forms.BooleanField(
        label="Complications asked for", required=False, initial=True
    )
    horizon = forms.ChoiceField(
        label="Counts for the horizon",
        choices=[("", "none"), *HORIZONS.items()],
        required=False,
    )
    source_note = forms.CharField(label="Source", max_length=300, required=False)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if cleaned.get("other_side_film") and not cleaned.get("film_views"):
            self.add_error("film_views", "Choose the view that shows the other side.")
        collected = ("film_views", "motion", "scores", "wound_check", "complication_screen")
        if not any(cleaned.get(name) for name in collected):
            self.add_error("film_views", "A step collects something: choose at least one thing.")
        return cleaned

    def groups(self) -> list[list[Any]]:
        """Return the fields as they stand together: when it is due, what is collected, and the rest."""
        rest = [*STEP[12:], *(name for name in self.fields if name not in STEP)]
        return [[self[name] for name in names] for names in (STEP[:6], STEP[6:12], rest)]

    def values(self) -> dict[str, Any]:
        """Return the columns of the step."""
        return {name: self.cleaned_data[name] for name in STEP}


class BaseSteps(forms.BaseFormSet):
    """The steps of one version, held against each other."""

    def kept(self) -> list[Any]:
        """Return the forms that make a step, by the day on which it is due."""
        filled = [form for form in self.forms if getattr(form, "cleaned_data", None)]
        there = [form for form in filled if not form.cleaned_data.get("DELETE")]
        if any(form.errors for form in there):
            return there
        return sorted(there, key=lambda form: _due(form.cleaned_data))

    def values(self) -> list[dict[str, Any]]:
        """Return the steps in their order."""
        return [form.values() for form in self.kept()]

    def clean(self) -> None:
        kept = self.kept()
        if not kept:
            raise forms.ValidationError("A protocol needs at least one step.")
        if any(form.errors for form in kept):
            return
        codes: set[str] = set()
        horizons: set[str] = set()
        for form in kept:
            _once(form, "code", codes, "Another step has this code; each needs its own.")
            _once(form, "horizon", horizons, "Another step counts for this horizon.")
        for earlier, later in itertools.pairwise(kept):
            if earlier.errors or later.errors:
                continue
            try:
                check_steps([plan_of(ProtocolStep(**one.values())) for one in (earlier, later)])
            except ValueError as fault:
                later.add_error("window_before_days", _sentence(fault))

    def add_fields(self, form: Any, index: int | None) -> None:
        super().add_fields(form, index)
        form.fields["DELETE"].label = "Remove this step"

    def with_one_more(self) -> Any:
        """Return the same steps as they were typed, unchecked, and room for one more."""
        typed = [
            {name: form[name].value() for name in form.fields}
            for form in self.forms
            if not form.empty_permitted or form.has_changed()
        ]
        roomier = forms.formset_factory(StepForm, **{**FORMSET, "extra": 1})
        return roomier(initial=typed, prefix=self.prefix)


FORMSET: dict[str, Any] = {
    "formset": BaseSteps,
    "extra": 0,
    "can_delete": True,
    "max_num": MOST_STEPS,
    "validate_max": True,
}
Steps = forms.formset_factory(StepForm, **FORMSET)


def _due(values: Mapping[str, Any]) -> date:
    return add_offset(date(2025, 1, 1), values["offset_value"], values["offset_unit"])


def _once(form: Any, name: str, taken: set[str], message: str) -> None:
    value = form.cleaned_data.get(name, "")
    if value and value in taken:
        form.add_error(name, message)
    taken.add(value)


def _sentence(fault: ValueError) -> str:
    text = str(fault)
    return f"{text[:1].upper()}{text[1:]}."
