from collections.abc import Iterable
from datetime import time
from typing import Any

from django import forms

from followup.models.calendars import Clinic
from followup.services.bulk import Wish
from registry.forms.base import DayField, PlainForm

LONGEST = 18
MOST_ROWS = 200


class ClinicDayForm(PlainForm):
    """The clinic and the day into which the ticked are booked."""

    clinic = forms.ModelChoiceField(
        label="Clinic", queryset=Clinic.objects.none(), empty_label="choose"
    )
    day = DayField(label="Day")

    def __init__(self, *args: Any, clinics: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["clinic"].queryset = clinics


class ReasonForm(PlainForm):
    """Why the ticked reviews are not needed."""

    reason = forms.CharField(
        label="Why these reviews are not needed",
        max_length=300,
        help_text="Kept with each of them.",
    )


class NoChoiceForm(PlainForm):
    """Nothing to choose: the preview says it all."""


def keys_of(texts: Iterable[str]) -> list[int]:
    """Return the reviews that were ticked; what is no number is left out."""
    numbers = (text.partition(":")[0] for text in texts)
    keys = [int(text) for text in numbers if text.isdecimal() and len(text) <= LONGEST]
    return list(dict.fromkeys(keys))[:MOST_ROWS]


def wishes_of(texts: Iterable[str]) -> list[Wish]:
    """Return what a preview sent back: review, version and time; what was tampered with is left out."""
    found: dict[int, Wish] = {}
    for text in texts:
        key, _, rest = text.partition(":")
        version, _, at = rest.partition(":")
        if not (key.isdecimal() and version.isdecimal() and len(key) + len(version) <= LONGEST):
            continue
        found.setdefault(int(key), Wish(int(key), int(version), _time(at)))
    return list(found.values())[:MOST_ROWS]


def _time(text: str) -> time | None:
    try:
        return time.fromisoformat(text) if text else None
    except ValueError:
        return None
