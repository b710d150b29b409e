from django import forms

from registry.forms.base import PlainForm


class NamesForm(PlainForm):
    """Whether a site's calendars show patients' names."""

    version = forms.IntegerField(widget=forms.HiddenInput, initial=1)
    shows_names = forms.BooleanField(
        label="Show patients' names in calendars",
        required=False,
        help_text=(
            "Caution: whoever has the address of a calendar reads it without signing in, and calendar "
            "programs copy it to phones and to their makers' servers. Leave this off unless your "
            "site's information governance has agreed to it; without it events carry the patient's "
            "key only."
        ),
    )
