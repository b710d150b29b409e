"""Deciding about a parked message; a site's rules and words for messages."""

from typing import Any

from django import forms

from followup.models.messages import MessagePurpose, TemplateLength
from followup.rules.message_texts import PLACEHOLDERS
from registry.forms.base import PlainForm, choices_of

POLICY = (
    "sends_email",
    "sends_text",
    "sends_letter",
    "email_quiet_from",
    "email_quiet_until",
    "text_quiet_from",
    "text_quiet_until",
    "letter_quiet_from",
    "letter_quiet_until",
    "most_a_day",
    "most_a_week",
    "language",
    "stop_words",
    "country_code",
    "reminder_count",
    "reminder_first_day",
    "reminder_spacing_days",
)
WORDS = ("purpose", "length", "language", "subject", "body")


class DecisionForm(PlainForm):
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    reason = forms.CharField(required=False, max_length=200, label="How you know, or why")


def _clock(label: str) -> forms.TimeField:
    return forms.TimeField(
        label=label, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )


class CommaWords(forms.CharField):
    """Words with commas between them."""

    def prepare_value(self, value: Any) -> Any:
        return ", ".join(value) if isinstance(value, list | tuple) else value

    def clean(self, value: Any) -> list[str]:
        return str(super().clean(value) or "").split(",")


class PolicyForm(PlainForm):
    version = forms.IntegerField(widget=forms.HiddenInput, initial=1)
    sends_email = forms.BooleanField(required=False, label="Send e-mail")
    sends_text = forms.BooleanField(required=False, label="Send text messages")
    sends_letter = forms.BooleanField(required=False, label="Send letters")
    email_quiet_from = _clock("No e-mail from")
    email_quiet_until = _clock("No e-mail until")
    text_quiet_from = _clock("No text message from")
    text_quiet_until = _clock("No text message until")
    letter_quiet_from = _clock("No letter from")
    letter_quiet_until = _clock("No letter until")
    most_a_day = forms.IntegerField(
        label="At most so many to one patient a day", min_value=1, max_value=20
    )
    most_a_week = forms.IntegerField(
        label="At most so many to one patient in seven days",
        min_value=1,
        max_value=100,
        help_text="What tells of a booked or cancelled slot is counted but never held back.",
    )
    language = forms.CharField(
        label="Language where a patient's own has no words", max_length=10, help_text="en, de ..."
    )
    stop_words = CommaWords(
        label="Answers that end messages",
        max_length=400,
        required=False,
        help_text="With commas between them. Whoever answers one of these, and nothing else, gets no "
        "more messages by that means.",
    )
    country_code = forms.CharField(
        label="Country code of numbers written without one",
        max_length=6,
        required=False,
        help_text="44 or 49, for example. Without it, an answer from +44 555 finds no 0555.",
    )
    reminder_count = forms.IntegerField(
        label="Reminders of a review that is not booked", min_value=0, max_value=10
    )
    reminder_first_day = forms.IntegerField(
        label="First reminder, days after the window opened", min_value=0, max_value=365
    )
    reminder_spacing_days = forms.IntegerField(
        label="Days between reminders", min_value=1, max_value=365
    )


class WordsForm(PlainForm):
    """The words for a purpose; the three that say which are fixed where words are there already."""

    purpose = forms.ChoiceField(label="For", choices=choices_of(MessagePurpose))
    length = forms.ChoiceField(label="Sent as", choices=choices_of(TemplateLength))
    language = forms.CharField(label="Language", max_length=10, help_text="Two letters: en, de.")
    subject = forms.CharField(
        label="Subject", max_length=120, required=False, help_text="Of an e-mail or letter only."
    )
    body = forms.CharField(label="Text", max_length=4000, widget=forms.Textarea(attrs={"rows": 10}))
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0, initial=0)

    def __init__(self, *args: Any, fixed: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if fixed:
            for name in ("purpose", "length", "language"):
                self.fields[name].disabled = True
            known = PLACEHOLDERS[self.initial["purpose"]]
            named = "; ".join(f"{{{name}}} {words}" for name, words in known.items())
            self.fields["body"].help_text = f"May hold: {named}."
