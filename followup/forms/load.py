from collections.abc import Sequence
from typing import Any

from django import forms

from followup.forms.due import ActForm
from registry.forms.base import DayField


class MoveForm(ActForm):
    """Another clinic day for a review that waits for a slot."""

    to_on = DayField(
        label="Move to",
        error_messages={"required": "Choose a day."},
        help_text="Clinic days inside the window that have room, the nearest to due first.",
    )

    def __init__(self, *args: Any, options: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to_on"].widget = forms.Select(choices=options)
        if not options:
            self.fields["to_on"].help_text = "No clinic day inside the window has room."
