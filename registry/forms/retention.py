from typing import Any

from django import forms

from registry.forms.base import PlainForm
from registry.rules.retention import Kind


class RuleForm(PlainForm):
    """How long a site keeps a kind of record, and under which law or policy."""

    version = forms.IntegerField(widget=forms.HiddenInput, initial=0)
    keep = forms.IntegerField(label="Kept for", min_value=1)
    least = forms.IntegerField(
        label="What law or policy ask for at least",
        min_value=1,
        required=False,
        help_text="Your own figure, from your own law or policy: none is built in. A shorter time is refused.",
    )
    basis = forms.CharField(
        label="The law or policy that this follows",
        max_length=300,
        error_messages={"required": "Name the law or policy that your site follows."},
    )

    def __init__(self, *args: Any, kind: Kind, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("keep", "least"):
            self.fields[name].label = f"{self.fields[name].label} ({kind.unit})"
        self.fields[
            "keep"
        ].help_text = f"{kind.what} From {kind.floor} to {kind.longest} {kind.unit}."
