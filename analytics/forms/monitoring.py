from typing import Any

from django import forms

from analytics.answers.horizons import HORIZONS
from analytics.answers.risks import COVARIATES
from analytics.answers.watched import WATCHED
from registry.forms.base import DayField, PlainForm


class PolicyForm(PlainForm):
    """A site's own written policy, and what it switches on."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    text = forms.CharField(
        label="The policy, as your site has agreed on it",
        max_length=8000,
        widget=forms.Textarea(attrs={"rows": 12}),
        help_text="Who sees what, who answers a signal and by when, and what it may not be used for.",
        error_messages={"required": "Write down the policy."},
    )
    surgeons = forms.BooleanField(label="Funnels of surgeons are on", required=False)
    charts = forms.BooleanField(label="Running charts are on", required=False)


class EndPolicyForm(PlainForm):
    """Why a policy ends."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    because = forms.CharField(
        label="Why it ends",
        max_length=300,
        error_messages={"required": "Say why the policy ends."},
    )


class DesignForm(PlainForm):
    """The design of a running chart."""

    version = forms.IntegerField(widget=forms.HiddenInput, initial=0)
    watched = forms.ChoiceField(
        label="What is watched", choices=[(one.code, one.name) for one in WATCHED.values()]
    )
    construct_type = forms.ChoiceField(label="Of which construct type", required=False)
    horizon = forms.ChoiceField(
        label="Judged by",
        choices=[(one.code, one.name) for one in HORIZONS.values() if one.code != "6w"],
        initial="6m",
        help_text=(
            "A case comes in when the window of this review has closed. Deep infection is judged by "
            "3 months."
        ),
    )
    odds_ratio = forms.FloatField(
        label="Odds ratio to watch for",
        initial=2.0,
        help_text="2 watches for odds that double, 0.5 for odds that halve.",
    )
    run_length = forms.IntegerField(
        label="Cases to a false alarm, on average",
        initial=200,
        help_text="The longer, the fewer false alarms, and the later a true one.",
    )
    baseline_from = DayField(label="Baseline: operated from")
    baseline_to = DayField(label="Baseline: operated to")
    starts_on = DayField(label="The chart reads operations from")
    covariates = forms.MultipleChoiceField(
        label="Risk adjusted for",
        choices=[(one.code, one.name) for one in COVARIATES.values()],
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text="Where the baseline has fewer than ten events for each, one rate is used instead.",
    )
    owner: forms.ModelChoiceField = forms.ModelChoiceField(
        label="Who owns its signals", queryset=None
    )
    answer_days = forms.IntegerField(label="Days to answer a signal", initial=14)
    reason = forms.CharField(
        label="Why it is designed like this",
        max_length=300,
        error_messages={"required": "Say why; it is kept with the design."},
    )

    def __init__(
        self, *args: Any, owners: Any, types: Any, fixed: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["owner"].queryset = owners
        self.fields["construct_type"].choices = [("", "all"), *types]
        for name in ("watched", "construct_type"):
            # What a chart is of does not change with its design.
            self.fields[name].disabled = fixed
