from typing import Any

from django import forms

from analytics.models.signals import CheckVerdict, FindingKind
from registry.forms.base import DayField, PlainForm, choices_of

WORDS = forms.Textarea(attrs={"rows": 4})


class CheckForm(PlainForm):
    """What somebody found who looked at one check of the data."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    verdict = forms.ChoiceField(
        label="Could it explain a signal",
        choices=CheckVerdict.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose one."},
    )
    finding = forms.CharField(
        label="What was found",
        max_length=2000,
        widget=WORDS,
        error_messages={"required": "Say what was found, also where it was nothing."},
    )


class StepForm(PlainForm):
    """A step of a signal with the words that are kept of it."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    words = forms.CharField(
        label="In your words",
        max_length=4000,
        widget=WORDS,
        error_messages={"required": "Say why, or what; it is kept in the history of the signal."},
    )


class FindingForm(StepForm):
    """What was found."""

    kind = forms.ChoiceField(
        label="What kind of finding",
        choices=choices_of(FindingKind),
        error_messages={"required": "Choose the kind of finding."},
    )
    field_order = ("version", "kind", "words")


class DayForm(StepForm):
    """A step with a day."""

    due_on = DayField(label="By which day")
    field_order = ("version", "words", "due_on")


class OwnerForm(StepForm):
    """A step to another owner."""

    owner: forms.ModelChoiceField = forms.ModelChoiceField(
        label="Who owns it from now on", queryset=None
    )
    field_order = ("version", "owner", "words")

    def __init__(self, *args: Any, owners: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["owner"].queryset = owners
