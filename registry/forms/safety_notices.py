from typing import Any

from django import forms

from registry.forms.base import DayField, PlainForm, choices_of
from registry.forms.trace import NumberField
from registry.models.people import Person
from registry.models.safety_notices import NoticeCarrier, NoticeKind, SafetyNotice
from registry.rules import notice_states

NOTICE = (
    *("reference", "title", "kind", "advice", "issued_on", "received_on", "due_on"),
    *("owner", "must_be_seen", "withdrawn_on"),
)
STEPS = {
    "is_one": "It is one: the patient carries it",
    "is_none": "It is none: the patient does not carry it",
    "decide_again": "Decide about it again",
    "reached": "Reached: the patient was told",
    "reviewed": "Reviewed: the patient was seen about it",
    "removed": "Removed: it is not in the patient any more",
    "unreachable": "Could not be reached",
    "died": "The patient died",
    "declined": "The patient declined",
    "opened_again": "Open it again",
}


class NoticeForm(PlainForm):
    """A notice, in the words of whoever received it."""

    version = forms.IntegerField(widget=forms.HiddenInput, initial=1)
    reference = forms.CharField(
        label="Reference", max_length=60, help_text="As whoever issued it numbers it."
    )
    title = forms.CharField(label="What it is about, in your own words", max_length=160)
    kind = forms.ChoiceField(label="Kind", choices=choices_of(NoticeKind))
    advice = forms.CharField(
        label="What it advises",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text="What is to be told, looked at or done, and for whom.",
    )
    issued_on = DayField(label="Issued on")
    received_on = DayField(label="Received on")
    due_on = DayField(label="To be done by", help_text="The tasks about patients are due then.")
    owner = forms.ModelChoiceField(label="Who sees to it", queryset=Person.objects.none())
    must_be_seen = forms.BooleanField(
        label="Being told is not enough: each patient is to be seen", required=False, initial=True
    )
    withdrawn_on = DayField(
        label="Withdrawn on", required=False, help_text="By whoever issued it; nothing new matches."
    )

    def __init__(self, *args: Any, owners: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["owner"].queryset = owners

    def values(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in NOTICE}


class LineForm(PlainForm):
    """One line of what a notice is about: whatever is given in a line has to fit together."""

    device_identifier = NumberField("Device identifier")
    catalogue_number = NumberField("Catalogue number")
    batch_first = NumberField("Batch")
    batch_last = NumberField("to batch")
    serial_first = NumberField("Serial number")
    serial_last = NumberField("to serial number")
    expires_from = DayField(label="Expires from", required=False)
    expires_to = DayField(label="Expires to", required=False)


class Lines(forms.BaseFormSet):
    """The lines of a notice; empty ones are left out."""

    def given(self) -> list[dict[str, Any]]:
        return [form.cleaned_data for form in self.forms if any(form.cleaned_data.values())]


LinesForm = forms.formset_factory(LineForm, formset=Lines, extra=3, max_num=40, absolute_max=60)


def lines_of(notice: SafetyNotice) -> list[dict[str, Any]]:
    """Return the lines of a notice as their forms start from them."""
    names = list(LineForm.base_fields)
    return [{name: getattr(line, name) for name in names} for line in notice.scopes.all()]


class StepForm(PlainForm):
    """What was done, or found, about one carrier."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    step = forms.ChoiceField(label="What happened")
    on = DayField(label="On")
    note = forms.CharField(
        label="Note",
        required=False,
        max_length=300,
        help_text="Needed where a reader would ask why: a decision, not reached, declined.",
    )

    def __init__(self, *args: Any, carrier: NoticeCarrier, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        certain = carrier.sureness == "certain"
        possible = notice_states.possible(carrier.state, certain=certain)
        self.fields["step"].choices = [
            ("", "choose"),
            *((name, STEPS[name]) for name in possible),
        ]
