from django import forms

from registry.forms.base import DayField, PlainForm

KEEP, ERASE, LIFT = "keep", "erase", "lift"


class DecisionForm(PlainForm):
    """What becomes of the records of a patient that are past their time, or held."""

    decision = forms.ChoiceField(
        label="What is decided",
        widget=forms.RadioSelect,
        choices=[
            (KEEP, "Keep them, in spite of the rule"),
            (ERASE, "Erase this patient for good"),
            (LIFT, "Let the rule hold again"),
        ],
    )
    until = DayField(
        label="Keep until",
        required=False,
        help_text="Empty: until somebody lifts it, as for a case at law.",
    )
    reason = forms.CharField(
        label="Why",
        max_length=300,
        help_text="It stays in the trail. Name no patient.",
        error_messages={"required": "Say why."},
    )
    typed = forms.CharField(
        label="To erase, type the patient's key",
        max_length=12,
        required=False,
        help_text="Names and numbers go for good, in the trail too.",
    )
