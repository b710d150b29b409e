from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms

from followup.selectors.due import SHOWS, DueFilter
from registry.forms.base import PlainForm

LONGEST_NUMBER = 18


class SaveFilterForm(PlainForm):
    """A view of the Due list, kept under a name."""

    query = forms.CharField(widget=forms.HiddenInput, required=False, max_length=300)
    name = forms.CharField(label="Keep this view as", max_length=60)
    is_start = forms.BooleanField(label="Open Due with it", required=False)


def wanted_of(query: Mapping[str, Any]) -> DueFilter:
    """Return what an address asks to see; what means nothing is left out."""
    show = query.get("show", "all")
    first = day_of(str(query.get("week", "")))
    return DueFilter(
        show=show if show in SHOWS else "all",
        week_of=first if first and first.year < date.max.year else None,
        clinic_id=number_of(str(query.get("clinic", ""))),
        surgeon_id=number_of(str(query.get("surgeon", ""))),
    )


def number_of(text: str) -> int | None:
    """Return a row's number as an address names it."""
    return int(text) if text.isdecimal() and len(text) <= LONGEST_NUMBER else None


def day_of(text: str) -> date | None:
    """Return a day as an address names it."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
