from django import forms

from registry.forms.base import PlainForm


class CloseTaskForm(PlainForm):
    """What was done about a task."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    note = forms.CharField(
        label="What was done",
        max_length=300,
        help_text="Or why nothing is to be done. The task stays on record with this note.",
    )
