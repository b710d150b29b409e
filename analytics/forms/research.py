from itertools import groupby
from typing import Any

from django import forms

from analytics.models.research import AgeHandling, DateHandling
from analytics.rules import extracts
from registry.forms.base import DayField, PlainForm


def _by_table() -> list[tuple[str, list[tuple[str, str]]]]:
    listed = sorted(extracts.offered(), key=lambda one: one.table)
    return [
        (table, [(f"{table}.{one.name}", f"{one.name}: {one.meaning}") for one in mine])
        for table, mine in groupby(listed, key=lambda one: one.table)
    ]


class ProjectForm(PlainForm):
    """What a project of research asks, under which approval, and what it takes."""

    name = forms.CharField(label="Name of the project", max_length=120)
    purpose = forms.CharField(
        label="What it asks",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="It stands in the file. Name no patient.",
    )
    approval = forms.CharField(
        label="Reference of its approval",
        max_length=200,
        help_text="Of the ethics committee, or of whoever decides where you work.",
    )
    starts_on = DayField(label="Extracts may be made from")
    ends_on = DayField(label="Until")
    sites: forms.ModelMultipleChoiceField = forms.ModelMultipleChoiceField(
        label="Whose patients",
        queryset=None,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose a site whose data the project is about."},
    )
    dates = forms.ChoiceField(
        label="How days are told",
        choices=DateHandling.choices,
        widget=forms.RadioSelect,
        initial=DateHandling.MONTH,
        help_text="Moved days keep the time between two of them, by which a course can be known again.",
    )
    ages = forms.ChoiceField(
        label="How age is told",
        choices=AgeHandling.choices,
        widget=forms.RadioSelect,
        initial=AgeHandling.BANDS,
    )
    columns = forms.MultipleChoiceField(
        label="Columns, and no more than the question needs",
        choices=_by_table,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose the columns that the project needs."},
    )

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["sites"].queryset = sites


class ExtractForm(PlainForm):
    """That an extract is taken in spite of what left before; asked only where that matters."""

    in_spite = forms.BooleanField(
        label="I know that a few could be told, and the project is bound not to try",
        required=False,
        widget=forms.HiddenInput,
    )

    def ask(self) -> None:
        """Show the tick that was not wanted so far."""
        self.fields["in_spite"].widget = forms.CheckboxInput()


class CloseForm(PlainForm):
    """Why a project ends."""

    because = forms.CharField(
        label="Why it ends",
        max_length=300,
        error_messages={"required": "Say why the project ends."},
    )
