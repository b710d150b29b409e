"""What every form shares: refusals by their field, and unlikely values asked about once."""

from collections.abc import Mapping
from typing import Any

from django import forms

from registry.errors import BadInput
from registry.rules import dates, plausibility


class PlainForm(forms.Form):
    """A form whose service refusals stand by their fields."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.label_suffix = ""

    def refuse(self, fault: BadInput) -> None:
        """Put each message of a refusal by its field, or on top where the form lacks it."""
        for name, message in fault.faults.items():
            self.add_error(name if name in self.fields else None, message)


class AskingForm(PlainForm):
    """A form that refuses impossible values and asks once about unlikely ones."""

    checked = forms.BooleanField(
        required=False,
        label="I have checked the unusual values; keep them",
        widget=forms.HiddenInput,
    )
    # Where a finding is shown when what was judged is not itself a field.
    stands_at: Mapping[str, str] = {}

    def judged(self) -> Mapping[str, Any]:
        """Return the values that have limits, by the names that the limits know."""
        return self.cleaned_data

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        unusual = False
        self.flags: list[str] = []
        for finding in plausibility.judge(self.judged()):
            place = self.stands_at.get(finding.field, finding.field)
            if finding.impossible:
                self.add_error(place, finding.message.capitalize())
            elif cleaned.get("checked"):
                self.flags.append(finding.field)
            else:
                unusual = True
                self.add_error(place, finding.message.capitalize())
        if unusual:
            self.fields["checked"].widget = forms.CheckboxInput()
        return cleaned


class CodedField(forms.ChoiceField):
    """One of a model's codes; left alone, it says unknown."""

    def __init__(self, label: str, kinds: Any) -> None:
        super().__init__(label=label, choices=kinds.choices, initial="unknown", required=False)

    def clean(self, value: Any) -> str:
        return super().clean(value) or "unknown"


class DayField(forms.DateField):
    """A whole date, picked or typed as year-month-day."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    input_formats = ["%Y-%m-%d"]
    default_error_messages = {
        "invalid": "Write a possible date as year-month-day, for example 2026-03-05."
    }


class PartialDateField(forms.CharField):
    """A date of which only the month or the year may be known; gives its bounds."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("help_text", "2026-03-05; or 2026-03, or 2026, when no more is known.")
        super().__init__(max_length=10, **kwargs)
        self.widget.attrs.update({"inputmode": "numeric", "placeholder": "year-month-day"})

    def clean(self, value: Any) -> dates.Bounds | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return dates.parse(text)
        except ValueError as fault:
            raise forms.ValidationError(f"{fault}.") from fault


def choices_of(kinds: Any, empty: str = "") -> list[tuple[str, str]]:
    """Return a model's choices for a select, with a first line that means nothing chosen."""
    return [("", empty or "choose"), *kinds.choices]
