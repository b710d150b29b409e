from typing import Any

from django import forms

from analytics.models.meetings import Meeting
from registry.forms.base import PlainForm


class PackForm(PlainForm):
    """For which meeting a pack is, and whether it leaves the department."""

    meeting = forms.ModelChoiceField(
        label="For which meeting",
        queryset=Meeting.objects.none(),
        required=False,
        empty_label="the next one; it is not recorded yet",
        help_text="The pack begins with what the meeting before it decided.",
    )
    for_outside = forms.BooleanField(
        label="It leaves the department: suppress small numbers",
        required=False,
        help_text="Counts from which somebody could be told are left out, and those that would give "
        "them away.",
    )

    def __init__(self, *args: Any, meetings: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["meeting"].queryset = meetings
