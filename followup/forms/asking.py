from typing import Any

from django import forms

from followup.rules import languages, wordings
from followup.rules.scores.catalogue import INSTRUMENTS
from registry.forms.base import PlainForm

SETUP = ("invites", "expiry_days", "reminder_days")


class DaysField(forms.CharField):
    """Whole days with commas between them."""

    def prepare_value(self, value: Any) -> Any:
        return ", ".join(str(day) for day in value) if isinstance(value, list | tuple) else value

    def clean(self, value: Any) -> list[int]:
        parts = [part.strip() for part in str(super().clean(value) or "").split(",")]
        try:
            return [int(part) for part in parts if part]
        except ValueError:
            raise forms.ValidationError("Write whole days, for example 7, 12.") from None


class SetupForm(PlainForm):
    """Whether, until when and how often a site asks its patients at home."""

    version = forms.IntegerField(widget=forms.HiddenInput, initial=1)
    invites = forms.BooleanField(
        label="Invite patients when the window of a review opens", required=False
    )
    expiry_days = forms.IntegerField(label="Days for which a link works", min_value=1, max_value=90)
    reminder_days = DaysField(
        label="Remind on day",
        required=False,
        help_text="Days after the invitation, with commas; none at all when left empty. Of those "
        "silent until day 7, half answered with texts on day 7 and 12 and a third without "
        "(randomised trial, Am J Med Qual 2024).",
    )


class AdviceForm(PlainForm):
    """What a patient has to do when an answer is alarming."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    text = forms.CharField(
        label="Advice",
        max_length=1000,
        widget=forms.Textarea,
        help_text="Shown at once after fever, a leaking wound, a sudden change of shape, or pain "
        "of 9 or 10. Say whom to ring by day and by night; nobody is watching the answers.",
    )


class ContentsForm(PlainForm):
    """What is asked at home for a step."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    contents = forms.MultipleChoiceField(
        label="Ask for",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="An instrument is asked only in a language in which its wording is in use. "
        "Without any, nobody is invited for this step.",
    )

    def __init__(self, *args: Any, choices: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["contents"].choices = choices


class WordingForm(PlainForm):
    """The items of an instrument, under the site's own licence."""

    instrument = forms.ChoiceField(
        label="Instrument",
        choices=[(code, INSTRUMENTS[code].name) for code in wordings.ITEM_FORMS],
    )
    language = forms.ChoiceField(label="Language", choices=list(languages.SHIPPED.items()))
    edition = forms.CharField(
        label="Edition", max_length=60, help_text="The version that its owner names."
    )
    licence_note = forms.CharField(
        label="Licence",
        max_length=300,
        help_text="From whom, for what, until when: it is kept with the words.",
    )
    pasted = forms.CharField(
        label="Items",
        widget=forms.Textarea(attrs={"rows": 16}),
        help_text="Each item begins with its number, a full stop and its words; below it each "
        "answer on a line of its own, from the lowest number up. An item without answers takes "
        "those of the item before it.",
    )
