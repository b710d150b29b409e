from typing import Any

from django import forms

from analytics.endpoints.catalogue import definitions_of
from registry.forms.base import PlainForm


class DefinitionForm(PlainForm):
    """Which of the shipped definitions of an endpoint a site calls its own."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    definition = forms.ChoiceField(
        label="Primary definition",
        widget=forms.RadioSelect,
        error_messages={"required": "Choose one of the definitions."},
    )

    def __init__(self, *args: Any, endpoint: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["definition"].choices = [
            (row.id, f"{row.label}. {row.text} Source: {row.source}.")
            for row in definitions_of(endpoint)
        ]
