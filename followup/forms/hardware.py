from typing import Any

from django import forms

from followup.models.hardware import HardwareState
from registry.forms.base import DayField, PlainForm

STATES = (
    HardwareState.DISCUSSED,
    HardwareState.PLANNED,
    HardwareState.DEFERRED,
    HardwareState.DECLINED,
    HardwareState.RAISED,
)


class DecisionForm(PlainForm):
    """What was decided about hardware. That it is out comes from recording the removal."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    state = forms.ChoiceField(label="Decision")
    wish_on = DayField(
        label="Wished date of removal",
        required=False,
        help_text="Needed when the removal is planned.",
    )
    deferred_until = DayField(label="Ask again on", required=False)
    reason = forms.CharField(
        label="Why",
        required=False,
        max_length=300,
        help_text="Needed when it is deferred or declined.",
    )

    def __init__(self, *args: Any, possible: frozenset[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["state"].choices = [
            ("", "choose"),
            *((state.value, state.label) for state in STATES if state.value in possible),
        ]
