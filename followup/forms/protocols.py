import itertools
import re
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django import forms

from followup.models.films import View
from followup.models.protocols import FilmSide, OffsetUnit, ProtocolStep, ProtocolVersion
from followup.rules import free_items, step_milestones
from followup.rules.requirements import INJURED, SIDES
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.rules.steps import HORIZONS, StepFacts
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
    "motion",
    "scores",
    "wound_check",
    "complication_screen",
    "free_items",
    "horizon",
    "source_note",
)
WHEN = STEP[:6]
COLLECTED = ("motion", "scores", "wound_check", "complication_screen")
FILMS = tuple(f"film_{view}" for view in View.values)
MILESTONE = re.compile(r"milestone_(\d)_\w+")
MOST_STEPS = 30


class VersionChoice(forms.ModelChoiceField):
    """A version of any protocol that a person may see, newest of each first."""

    def label_from_instance(self, obj: Any) -> str:
        return f"{obj}, from {obj.effective_from:%d %b %Y}"


class VersionsForm(PlainForm):
    """A choice among the versions that a person may see."""

    def __init__(self, *args: Any, versions: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.fields:
            self.fields[name].queryset = versions


class CompareForm(VersionsForm):
    """Two versions that are to be held against each other."""

    a = VersionChoice(label="This version", queryset=ProtocolVersion.objects.none())
    b = VersionChoice(label="with this one", queryset=ProtocolVersion.objects.none())


class TargetForm(VersionsForm):
    """The version to which patients are to be moved."""

    to = VersionChoice(label="To which version?", queryset=ProtocolVersion.objects.none())


class MoveForm(PlainForm):
    """Why patients are moved, and when whoever moves them saw what it would do."""

    seen_at = forms.CharField(widget=forms.HiddenInput)
    reason = forms.CharField(
        label="Why, and on whose authority",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def clean_seen_at(self) -> datetime:
        try:
            seen_at = datetime.fromisoformat(self.cleaned_data["seen_at"])
        except ValueError as fault:
            raise forms.ValidationError("Look at what it would do once more.") from fault
        if seen_at.tzinfo is None:
            raise forms.ValidationError("Look at what it would do once more.")
        return seen_at


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
    free_items = forms.CharField(
        label="Asked in our own words",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="One on each line: a short code, a colon, and the words. For example: "
        "sling: sling worn as agreed.",
    )
    horizon = forms.ChoiceField(
        label="Counts for the horizon",
        choices=[("", "none"), *HORIZONS.items()],
        required=False,
    )
    source_note = forms.CharField(label="Source", max_length=300, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for view, label in View.choices:
            self.fields[f"film_{view}"] = forms.ChoiceField(
                label=f"{label} film", choices=[("", "none"), *FilmSide.choices], required=False
            )
        for number in range(self._milestone_rows()):
            self.fields.update(_milestone_fields(number))

    def _milestone_rows(self) -> int:
        """Return how many rows for milestones there are: those that hold something, and one more."""
        source = self.data if self.is_bound else self.initial
        start = f"{self.prefix}-" if self.is_bound and self.prefix else ""
        found = (
            MILESTONE.fullmatch(name.removeprefix(start))
            for name, value in source.items()
            if name.startswith(start) and value not in (None, "")
        )
        last = max((int(one[1]) for one in found if one), default=-1)
        return min(last + 2, step_milestones.MOST)

    def clean_free_items(self) -> list[dict[str, str]]:
        try:
            return free_items.read(self.cleaned_data["free_items"])
        except ValueError as fault:
            raise forms.ValidationError(_sentence(fault)) from fault

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        collected = (*FILMS, *COLLECTED, "free_items")
        if not any(cleaned.get(name) for name in collected) and "free_items" in cleaned:
            self.add_error(FILMS[0], "A step collects something: choose at least one thing.")
        films = {view: cleaned.get(f"film_{view}") for view in View.values}
        cleaned["film_sides"] = {view: side for view, side in films.items() if side in SIDES}
        cleaned["film_views"] = list(cleaned["film_sides"])
        cleaned["milestones"] = self._clean_milestones(cleaned)
        return cleaned

    def _clean_milestones(self, cleaned: Mapping[str, Any]) -> list[dict[str, Any]]:
        kept = []
        for number in range(self._milestone_rows()):
            names = {part: f"milestone_{number}_{part}" for part in step_milestones.NAMES}
            row = {part: cleaned.get(name) for part, name in names.items()}
            if names.keys() - {part for part, name in names.items() if name in cleaned}:
                continue
            if all(value in (None, "") for value in row.values()):
                continue
            for part, said in step_milestones.faults(row).items():
                self.add_error(names[part], said)
            kept.append(row)
            try:
                step_milestones.check(kept if not self.errors else [])
            except ValueError as fault:
                self.add_error(names["movement"], _sentence(fault))
        return kept

    def groups(self) -> list[list[Any]]:
        """Return the fields as they stand together: when, which films, what else, and the rest."""
        shown = (*WHEN, *FILMS, *COLLECTED, "free_items")
        rest = [name for name in self.fields if name not in shown and "milestone_" not in name]
        whats = (WHEN, FILMS, (*COLLECTED, "free_items"), rest)
        return [[self[name] for name in names] for names in whats]

    def milestone_groups(self) -> list[list[Any]]:
        """Return the fields of each milestone, the last of them empty for one more."""
        return [
            [self[f"milestone_{number}_{part}"] for part in step_milestones.NAMES]
            for number in range(self._milestone_rows())
        ]

    def values(self) -> dict[str, Any]:
        """Return the columns of the step."""
        names = (*STEP, "film_views", "film_sides", "milestones")
        return {name: self.cleaned_data[name] for name in names}


def initial_of(step: StepFacts) -> dict[str, Any]:
    """Return a step as the fields of its form show it."""
    values = {name: getattr(step, name) for name in STEP}
    values["free_items"] = free_items.written(step.free_items)
    for view in step.film_views:
        values[f"film_{view}"] = step.film_sides.get(view, INJURED)
    for number, row in enumerate(step.milestones):
        values |= {f"milestone_{number}_{part}": row[part] for part in step_milestones.NAMES}
    return values


def _milestone_fields(number: int) -> dict[str, forms.Field]:
    words, source = step_milestones.WORDS_LENGTH, step_milestones.SOURCE_LENGTH
    fields: dict[str, forms.Field] = {
        "movement": forms.ChoiceField(
            label="Movement",
            required=False,
            choices=[("", "in words alone"), *step_milestones.MOVEMENTS.items()],
        ),
        "mode": forms.ChoiceField(
            label="Active or passive",
            required=False,
            choices=[("", "in words alone"), *step_milestones.MODES.items()],
        ),
        "at_least_deg": forms.IntegerField(label="At least, degrees", required=False),
        "at_most_deg": forms.IntegerField(label="At most, degrees", required=False),
        "words": forms.CharField(label="In words", required=False, max_length=words),
        "source": forms.CharField(
            label="Source",
            required=False,
            max_length=source,
            help_text=f"Or: {step_milestones.NO_SOURCE}.",
        ),
    }
    return {f"milestone_{number}_{part}": field for part, field in fields.items()}


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
