from collections.abc import Sequence
from typing import Any

from django import forms

from followup.selectors.operation_moves import Found
from registry.forms.base import PartialDateField, PlainForm, choices_of
from registry.models.injuries import InjuryKind, Side
from registry.models.procedures import Procedure
from registry.rules import dates
from registry.services.moved_rows import Along


class OperationMoveForm(PlainForm):
    """Why an operation is another injury's, what goes along, over the versions that were seen."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    to_version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    offered = forms.CharField(widget=forms.HiddenInput, max_length=64)
    revises = forms.ChoiceField(label="What it revises there", required=False)
    rows = forms.MultipleChoiceField(
        label="What goes along of what was found on this injury",
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text="Ticked is what was found from the day of the operation on, until the next one that "
        "stays. What is not ticked stays on the injury.",
    )
    turned = forms.ChoiceField(
        label="Motion that goes along, if the side is another",
        widget=forms.RadioSelect,
        initial="turn",
        choices=[
            ("turn", "was of the injured and of the other shoulder: it changes sides too"),
            ("stay", "was of the side that it names: it stays"),
        ],
    )
    side_confirmed = forms.BooleanField(
        label="The side of the other injury is the one that was operated", required=False
    )
    reason = forms.CharField(
        label="How do you know which injury it was of?",
        max_length=300,
        help_text="For example: the operation note names the other shoulder.",
    )

    def __init__(
        self,
        *args: Any,
        found: Sequence[Found],
        revisable: Sequence[Procedure] | None,
        asks_side: bool,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.revisable = {str(one.pk): one for one in revisable or ()}
        self.fields["rows"].choices = [(one.code, one.words) for one in found]
        self.fields["revises"].choices = [
            ("", "nothing"),
            *((key, str(one)) for key, one in self.revisable.items()),
        ]
        moves_motion = any(one.kind == "motion" for one in found)
        unasked = {
            "revises": revisable is None,
            "rows": not found,
            "turned": not (asks_side and moves_motion),
            "side_confirmed": not asks_side,
        }
        for name, leave_out in unasked.items():
            if leave_out:
                del self.fields[name]

    def along(self, *, other_side: bool) -> Along:
        """Return what goes along."""
        rows: dict[str, list[int]] = {}
        for code in self.cleaned_data.get("rows", []):
            kind, _, key = code.partition(":")
            rows.setdefault(kind, []).append(int(key))
        turned = other_side and self.cleaned_data.get("turned") == "turn"
        return Along(rows, self.cleaned_data["offered"], turned)

    def revised(self) -> Procedure | None:
        """Return what the operation revises on the other injury."""
        return self.revisable.get(self.cleaned_data.get("revises", ""))


class NewInjuryMoveForm(OperationMoveForm):
    """The same, with the injury that is not recorded yet."""

    field_order = ("version", "offered", "kind", "side", "injury_date")

    kind = forms.ChoiceField(label="Injury", choices=choices_of(InjuryKind))
    side = forms.ChoiceField(label="Side", choices=Side.choices, widget=forms.RadioSelect)
    injury_date = PartialDateField(label="Date of the injury")

    def values(self) -> dict[str, Any]:
        """Return the injury's columns."""
        hurt: dates.Bounds = self.cleaned_data["injury_date"]
        given = {name: self.cleaned_data[name] for name in ("kind", "side")}
        return {**given, "injured_earliest": hurt.earliest, "injured_latest": hurt.latest}
