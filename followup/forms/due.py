from datetime import date, time
from typing import Any

from django import forms

from followup.models.contacts import ContactMeans, ContactOutcome
from followup.selectors.slots import FreeSlot
from registry.errors import BadInput
from registry.forms.base import PlainForm, choices_of

NO_SLOT = "No clinic of this site has a free slot. An administrator sets clinics up under Setup."


class ActForm(PlainForm):
    """An act on a review, over the version of it that the user saw."""

    @property
    def version(self) -> int:
        text = self.data.get("version", "")
        return int(text) if text.isdecimal() and len(text) < 10 else 0


class BookForm(ActForm):
    slot = forms.ChoiceField(
        label="Slot",
        error_messages={
            "required": "Choose a slot.",
            "invalid_choice": "That slot was taken meanwhile or is no longer held; choose another.",
        },
    )

    def __init__(self, *args: Any, slots: list[FreeSlot], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["slot"].choices = [(slot.value, slot.label) for slot in slots]
        if not slots:
            self.fields["slot"].help_text = NO_SLOT

    def refuse(self, fault: BadInput) -> None:
        """Day, time and clinic were chosen in one field."""
        super().refuse(BadInput({"slot": " ".join(fault.faults.values())}))

    def clean_slot(self) -> tuple[int, date, time]:
        clinic_id, on, at = self.cleaned_data["slot"].split("|")
        return int(clinic_id), date.fromisoformat(on), time.fromisoformat(at)


class AttemptForm(ActForm):
    means = forms.ChoiceField(label="How", choices=ContactMeans.choices)
    outcome = forms.ChoiceField(label="What came of it", choices=choices_of(ContactOutcome))
    note = forms.CharField(label="Note", max_length=300, required=False)


class NotNeededForm(ActForm):
    reason = forms.CharField(label="Why this review is not needed", max_length=300)


class ConfirmForm(ActForm):
    """Nothing to fill in: the button says it all."""
