from typing import Any

from django import forms

from registry.forms.base import PlainForm


class MoveForm(PlainForm):
    """Why an injury is another patient's, over the versions that were seen."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    to_version = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        label="How do you know whose it is?",
        max_length=300,
        help_text="For example: the operation note names the other patient.",
    )


class SideForm(PlainForm):
    """Why an injury is of the other side, and what that means for the exams of motion."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    exams = forms.ChoiceField(
        label="Motion that was recorded",
        widget=forms.RadioSelect,
        initial="turn",
        choices=[
            ("turn", "was of the injured and of the other shoulder: it changes sides too"),
            ("stay", "was of the side that it names: it stays"),
        ],
    )
    reason = forms.CharField(
        label="How do you know the side?",
        max_length=300,
        help_text="For example: the film and the operation note show the other shoulder.",
    )

    def with_motion(self) -> bool:
        """Whether exams of motion change sides."""
        chosen: Any = self.cleaned_data["exams"]
        return bool(chosen == "turn")
