from typing import Any

from django import forms

from registry.forms.base import PlainForm
from registry.rules.hl7_text import CHARACTER_SETS

DOOR = (
    "is_open",
    "facility",
    "number_systems",
    "character_set",
    "tells_bookings",
    "keep_days",
)


class AsideForm(PlainForm):
    """Why nothing of a message is to be taken over."""

    note = forms.CharField(label="Why nothing of it counts", max_length=300)


class NumberSystemsField(forms.CharField):
    """Authorities and what their numbers are called here, one a line: HOSP = hospital number."""

    widget = forms.Textarea(attrs={"rows": 4})

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, dict):
            return "\n".join(f"{authority} = {system}" for authority, system in value.items())
        return value

    def clean(self, value: Any) -> dict[str, str]:
        found: dict[str, str] = {}
        for line in super().clean(value).splitlines():
            if not line.strip():
                continue
            authority, sign, system = (part.strip() for part in line.partition("="))
            if not sign or not system or len(system) > 60:
                raise forms.ValidationError(
                    f"'{line.strip()[:60]}' is not of the form AUTHORITY = what its numbers are called"
                )
            found[authority] = system
        return found


class DoorForm(PlainForm):
    """How a site takes what its hospital's system sends."""

    version = forms.IntegerField(widget=forms.HiddenInput, initial=1)
    is_open = forms.BooleanField(
        label="Messages are taken", required=False, help_text="From files and over the line."
    )
    facility = forms.CharField(
        label="Sending facility (MSH-4)",
        max_length=120,
        required=False,
        help_text="Messages that name another are rejected. Empty: any.",
    )
    number_systems = NumberSystemsField(
        label="Whose numbers are taken, and what they are called here",
        required=False,
        help_text=(
            "One a line: the assigning authority of PID-3, an equals sign, the name that the numbers "
            "have here. For example: HOSP = hospital number. Other numbers are passed over."
        ),
    )
    character_set = forms.ChoiceField(
        label="Character set of messages that name none",
        required=False,
        choices=[("", "UTF-8"), *((name, name) for name in CHARACTER_SETS)],
    )
    tells_bookings = forms.TypedChoiceField(
        label="Who tells patients of bookings that the hospital's system makes?",
        choices=[(False, "Holdfast"), (True, "the hospital")],
        coerce=lambda value: value == "True",
        widget=forms.RadioSelect,
        initial=False,
        help_text="Say 'the hospital' only where it writes to every patient itself: nothing of a slot "
        "that its system made, changed or cancelled goes out from here then. Reminders are another "
        "matter, under Messages.",
    )
    keep_days = forms.IntegerField(
        label="Days that a settled message is kept in full",
        min_value=1,
        max_value=3650,
        initial=90,
        help_text="Shipped: 90. Common practice, no source. What waits, or could not be used, is kept until it is settled.",
    )
