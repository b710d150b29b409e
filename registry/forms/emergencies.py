from datetime import date
from typing import Any

from django import forms

from registry.forms.base import PlainForm


class OpenForm(PlainForm):
    """Whom to open in an emergency, and why."""

    key = forms.CharField(
        label="Key", max_length=20, required=False, help_text="As it stands on the card."
    )
    number = forms.CharField(
        label="Or number", max_length=60, required=False, help_text="Exactly, with the birth date."
    )
    born = forms.DateField(
        label="and birth date",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    reason = forms.CharField(
        label="Why do you need to read this now?",
        min_length=20,
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What happened, and what you need to know. No names: people who see none read it.",
    )

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        born: date | None = cleaned.get("born")
        if not cleaned.get("key") and not (cleaned.get("number") and born):
            self.add_error("key", "Give the key, or a number with the birth date.")
        return cleaned


class FindingForm(PlainForm):
    """What somebody of the site found when they looked."""

    finding = forms.CharField(
        label="What did you find?",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="For example: the patient was in their emergency room; nothing further.",
    )
