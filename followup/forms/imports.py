from typing import Any

from django import forms

from registry.forms.base import PlainForm
from registry.models.sites import Site

MEGABYTE = 1024 * 1024
MOST_MEGABYTES = 10


class UploadForm(PlainForm):
    """A file of cases and the site that they are of."""

    site = forms.ModelChoiceField(label="Site", queryset=Site.objects.none(), empty_label=None)
    file = forms.FileField(
        label="File of cases",
        max_length=200,
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx"}),
        help_text=f"CSV or XLSX, at most {MOST_MEGABYTES} MB. Nothing is imported yet: you see first what would be.",
        error_messages={"required": "Choose a file.", "empty": "This file is empty."},
    )
    day_first = forms.BooleanField(
        label="Dates are written day first, as 05.03.2026 or 05/03/2026", required=False
    )

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites

    def clean_file(self) -> Any:
        given = self.cleaned_data["file"]
        if given.size > MOST_MEGABYTES * MEGABYTE:
            raise forms.ValidationError(
                f"This file has {given.size / MEGABYTE:.1f} MB; at most {MOST_MEGABYTES} MB are "
                "taken here. Split it, or have it imported by the import_cases command."
            )
        return given
