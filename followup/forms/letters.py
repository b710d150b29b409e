from django import forms

from followup.models.letters import SentBy
from registry.forms.base import DayField, PlainForm, choices_of


class LetterForm(PlainForm):
    """The words of a note or letter. Who it is about stands above them and is not typed."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    addressee = forms.CharField(
        label="To: name and address, line by line",
        required=False,
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    body = forms.CharField(
        label="Words", max_length=12000, widget=forms.Textarea(attrs={"rows": 24})
    )


class SendForm(PlainForm):
    """How and when a letter goes out."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    means = forms.ChoiceField(label="How it goes out", choices=choices_of(SentBy))
    on = DayField(label="On")
