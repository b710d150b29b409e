from django import forms

from registry.forms.base import PlainForm

POLICY = (
    "attempts",
    "means",
    "over_days",
    "days_between",
    "calls_before_other_route",
    "reminder_days",
)


class PolicyForm(PlainForm):
    """How a site tries to reach its patients."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    attempts = forms.IntegerField(
        label="Tries before somebody cannot be reached",
        min_value=1,
        max_value=30,
        help_text="Shipped: 6. Common practice, no source.",
    )
    means = forms.IntegerField(
        label="By how many different means",
        min_value=1,
        max_value=5,
        help_text="Shipped: 2. Common practice, no source. Fewer where a patient has fewer.",
    )
    over_days = forms.IntegerField(
        label="Over how many days at the least",
        min_value=0,
        max_value=180,
        help_text="Shipped: 14. Common practice, no source.",
    )
    days_between = forms.IntegerField(
        label="Days between two tries",
        min_value=0,
        max_value=60,
        help_text="Shipped: 2. Common practice, no source.",
    )
    calls_before_other_route = forms.IntegerField(
        label="Unanswered tries by one means before another is proposed",
        min_value=1,
        max_value=30,
        help_text="Shipped: 3, after a published tracking table of cohort studies (Trials 2020).",
    )
    reminder_days = forms.IntegerField(
        label="Days between two reminders of a review",
        min_value=1,
        max_value=180,
        help_text="Shipped: 7. Non-responders were reminded after 7 days in a trial (2024).",
    )
