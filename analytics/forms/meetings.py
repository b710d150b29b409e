from collections.abc import Sequence
from typing import Any

from django import forms

from analytics.models.meetings import StepKind
from registry.forms.base import DayField, PlainForm
from registry.models.people import Person
from registry.models.sites import Site

MEETING = ("held_on", "attended", "notes")


class HeldForm(PlainForm):
    """When a meeting was, how many came, and what was said."""

    held_on = DayField(label="Held on")
    attended = forms.IntegerField(
        label="How many attended", min_value=1, max_value=500, help_text="A number; no names."
    )
    notes = forms.CharField(
        label="Notes",
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text="No patient's name: whoever sees the figures of these sites reads this.",
    )


class CorrectMeetingForm(HeldForm):
    """The same over the version that was seen."""

    version = forms.IntegerField(widget=forms.HiddenInput)


class MeetingForm(HeldForm):
    """A meeting that was held, and of which sites it was."""

    sites = forms.ModelMultipleChoiceField(
        label="Sites",
        queryset=Site.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        help_text="What is written here is seen by whoever may see the figures of all of them.",
        error_messages={"required": "Say of which sites the meeting was."},
    )
    field_order = ("held_on", "sites", "attended", "notes")

    def __init__(self, *args: Any, sites: Sequence[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pks = [site.pk for site in sites]
        self.fields["sites"].queryset = Site.objects.filter(pk__in=pks)
        if len(pks) == 1:
            self.fields["sites"].initial = pks


class DecisionForm(PlainForm):
    """What was decided; with an owner and a day it is an action."""

    words = forms.CharField(
        label="What was decided",
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say what was decided."},
    )
    owner = forms.ModelChoiceField(
        label="Who does it",
        queryset=Person.objects.none(),
        required=False,
        empty_label="nobody has to act",
    )
    due_on = DayField(label="By when", required=False)
    figure = forms.CharField(
        label="Address of the figure",
        required=False,
        max_length=500,
        help_text="Where a figure led to this: the address of its page, which reproduces it.",
    )

    def __init__(self, *args: Any, owners: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["owner"].queryset = owners


class FollowUpForm(PlainForm):
    """What became of an action."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    kind = forms.ChoiceField(label="What became of it", widget=forms.RadioSelect)
    words = forms.CharField(
        label="In words",
        max_length=300,
        help_text="What was done, why it was dropped or opened again, why owner or day changed.",
        error_messages={"required": "Say in words what became of it."},
    )
    owner = forms.ModelChoiceField(
        label="Who does it from now on",
        queryset=Person.objects.none(),
        required=False,
        empty_label="as before",
    )
    due_on = DayField(label="By when from now on", required=False)

    def __init__(self, *args: Any, owners: Any, is_open: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["owner"].queryset = owners
        kinds = (
            (StepKind.DONE, StepKind.DROPPED, StepKind.CHANGED) if is_open else (StepKind.REOPENED,)
        )
        self.fields["kind"].choices = [(kind.value, kind.label) for kind in kinds]
        if not is_open:
            self.fields["kind"].initial = StepKind.REOPENED.value
