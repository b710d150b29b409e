from typing import Any

from django import forms
from django.utils.dates import WEEKDAYS

from registry.forms.base import DayField, PlainForm
from registry.models.people import Person

CLINIC = (
    *("name", "weekday", "starts_at", "slots", "slot_minutes", "surgeon"),
    *("hospital_code", "is_active"),
)


class ClinicForm(PlainForm):
    """A clinic of one site on one weekday."""

    version = forms.IntegerField(widget=forms.HiddenInput, initial=1)
    name = forms.CharField(label="Name", max_length=80)
    weekday = forms.TypedChoiceField(label="Held on", coerce=int, choices=list(WEEKDAYS.items()))
    starts_at = forms.TimeField(
        label="Starts at",
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages={"invalid": "Write a time of day as hours and minutes, for example 09:00."},
    )
    slots = forms.IntegerField(
        label="Slots", min_value=1, max_value=200, help_text="How many patients may be booked."
    )
    slot_minutes = forms.IntegerField(
        label="Minutes for each slot", min_value=1, max_value=240, initial=10
    )
    surgeon = forms.ModelChoiceField(
        label="Surgeon", queryset=Person.objects.none(), required=False, empty_label="nobody named"
    )
    hospital_code = forms.CharField(
        label="What the hospital's system calls it",
        max_length=60,
        required=False,
        help_text="Slots that its messages name there are taken over. Empty: none are.",
    )
    is_active = forms.BooleanField(
        label="Is held",
        required=False,
        initial=True,
        help_text="A clinic that is no longer held is kept, because visits refer to it.",
    )

    def __init__(self, *args: Any, surgeons: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["surgeon"].queryset = surgeons

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if self.errors:
            return cleaned
        starts, minutes = cleaned["starts_at"], cleaned["slots"] * cleaned["slot_minutes"]
        if starts.hour * 60 + starts.minute + minutes > 24 * 60:
            self.add_error("slots", "The last slot would end after midnight; take fewer slots.")
        return cleaned


class CloseDayForm(PlainForm):
    """A day on which no clinic of a site is held."""

    on = DayField(label="Day")
    reason = forms.CharField(label="Why", max_length=120, help_text="For example: audit day.")


class HolidaysForm(PlainForm):
    """The year whose public holidays close a site."""

    year = forms.IntegerField(label="Year", min_value=2000, max_value=2100)
