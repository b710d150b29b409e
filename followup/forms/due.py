from datetime import date, time
from typing import Any

from django import forms

from followup.models.contacts import ContactMeans, ContactOutcome
from followup.selectors.slots import FreeSlot
from registry.forms.base import PlainForm


class BookForm(PlainForm):
    slot = forms.ChoiceField(label="Slot", error_messages={"required": "Choose a slot."})

    def __init__(self, *args: Any, slots: list[FreeSlot], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["slot"].choices = [(slot.value, slot.label) for slot in slots]

    def clean_slot(self) -> tuple[int, date, time]:
        clinic_id, on, at = self.cleaned_data["slot"].split("|")
        return int(clinic_id), date.fromisoformat(on), time.fromisoformat(at)


class AttemptForm(PlainForm):
    means = forms.ChoiceField(label="How", choices=ContactMeans.choices)
    outcome = forms.ChoiceField(label="What came of it", choices=ContactOutcome.choices)
    note = forms.CharField(label="Note", max_length=300, required=False)


class NotNeededForm(PlainForm):
    reason = forms.CharField(label="Why this review is not needed", max_length=300)


class ConfirmForm(PlainForm):
    """Nothing to fill in: the button says it all."""
