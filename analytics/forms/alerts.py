from django import forms

from analytics.models.alert_mails import MailChoice
from analytics.rules import alert_plans
from registry.forms.base import DayField, PlainForm


class PlanForm(PlainForm):
    """What is to happen about a reduction that may be lost, and by when."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    plan = forms.ChoiceField(
        label="What is to happen",
        choices=alert_plans.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose what is to happen."},
    )
    due_on = DayField(label="By which day", error_messages={"required": "Say by which day."})
    note = forms.CharField(label="Note for whoever does it", required=False, max_length=200)


class MailForm(PlainForm):
    """How often one is told of alerts by e-mail."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    choice = forms.ChoiceField(
        label="Tell me by e-mail",
        choices=MailChoice.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose how often."},
    )
