from django import forms

from registry.forms.base import PlainForm


class SeenForm(PlainForm):
    """What was done about an answer."""

    note = forms.CharField(
        label="What was done",
        max_length=300,
        help_text="For example: rang, it was Ada; text messages are noted as refused.",
    )
