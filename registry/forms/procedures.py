from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django import forms

from registry.forms.base import CodedField, DayField
from registry.forms.measured import MeasuredField, MeasuringForm, initial_of
from registry.models.injuries import Injury, YesNo
from registry.models.people import Person
from registry.models.procedures import (
    Approach,
    Grade,
    PatientPosition,
    Procedure,
    ProcedureKind,
    ReductionQuality,
)
from registry.services.enrolment import REVISING

COLUMNS = (
    "performed_on",
    "surgeon",
    "operator_grade",
    "assistant_grade",
    "position",
    "approach",
    "provisional_fixation",
    "reduction_quality",
    "intraoperative_film",
    "duration_minutes",
    "note",
)
MEASURED = ("duration_minutes",)
WHAT = ("kind", "performed_on", "revises", "planned_removal")
WHO = ("surgeon", "operator_grade", "assistant_grade")
HOW = (
    "position",
    "approach",
    "provisional_fixation",
    "reduction_quality",
    "intraoperative_film",
    "duration_minutes",
    "note",
)


class ProcedureForm(MeasuringForm):
    """One operation, but for its kind and what it revises."""

    stands_at = {"days_from_injury": "performed_on"}

    performed_on = DayField(label="Date of the operation")
    surgeon = forms.ModelChoiceField(
        label="Surgeon",
        queryset=Person.objects.none(),
        required=False,
        empty_label="somebody else, or unknown",
    )
    operator_grade = CodedField("Grade of who operated", Grade)
    assistant_grade = CodedField("Grade of who assisted", Grade)
    position = CodedField("Position", PatientPosition)
    approach = CodedField("Approach", Approach)
    provisional_fixation = CodedField("Provisional fixation used", YesNo)
    reduction_quality = CodedField("Reduction at the end", ReductionQuality)
    intraoperative_film = CodedField("Intraoperative film of screws and reduction", YesNo)
    duration_minutes = MeasuredField("Duration, minutes")
    note = forms.CharField(label="Note", max_length=300, required=False)

    def __init__(self, *args: Any, injury: Injury, surgeons: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.injury = injury
        self.fields["surgeon"].queryset = surgeons

    def is_first_fixation(self) -> bool:
        """Whether the delay since the injury is asked about; a later operation may come any time."""
        return self.cleaned_data.get("kind") == ProcedureKind.FIXATION

    def judged(self) -> Mapping[str, Any]:
        """Days from the injury are held to their limits, taking its latest possible date."""
        values = dict(super().judged())
        on: date | None = self.cleaned_data.get("performed_on")
        if on is not None and self.is_first_fixation() and on >= self.injury.injured_earliest:
            values["days_from_injury"] = max(0, (on - self.injury.injured_latest).days)
        return values

    def values(self) -> dict[str, Any]:
        """Return the operation's columns."""
        return self.row_values(COLUMNS)


class NewProcedureForm(ProcedureForm):
    """An operation that is recorded for the first time."""

    kind = forms.ChoiceField(label="Operation")
    revises = forms.ModelChoiceField(
        label="Which operation it revises or removes",
        queryset=Procedure.objects.none(),
        required=False,
        empty_label="none",
    )
    planned_removal = forms.BooleanField(
        label="This removal was planned from the start", required=False
    )

    def __init__(
        self,
        *args: Any,
        kinds: Iterable[ProcedureKind],
        earlier: list[Procedure],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = [
            ("", "choose"),
            *((kind.value, kind.label) for kind in kinds),
        ]
        self.fields["revises"].queryset = Procedure.objects.filter(pk__in=[p.pk for p in earlier])
        if not earlier:
            del self.fields["revises"]
            del self.fields["planned_removal"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        kind = cleaned.get("kind")
        if cleaned.get("planned_removal") and kind != ProcedureKind.IMPLANT_REMOVAL:
            self.add_error("planned_removal", "Only a removal of implants is a planned removal.")
        # It is offered ready chosen; a washout, say, neither revises nor removes.
        if kind not in REVISING:
            cleaned["revises"] = None
        return cleaned

    def values(self) -> dict[str, Any]:
        """Return the operation's columns with its kind and what it revises."""
        return {
            **super().values(),
            "kind": self.cleaned_data["kind"],
            "revises": self.cleaned_data.get("revises"),
            "planned_removal": self.cleaned_data.get("planned_removal", False),
        }


class CorrectProcedureForm(ProcedureForm):
    """An operation that is corrected, with the reason. Its kind stays what it is."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(label="Why it is corrected", max_length=280)

    def __init__(self, *args: Any, kind: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind = kind

    def is_first_fixation(self) -> bool:
        """A correction knows the kind from the row."""
        return self.kind == ProcedureKind.FIXATION


def initial_procedure(row: Procedure) -> dict[str, Any]:
    """Return an operation's values as its form starts from them."""
    return {**initial_of(row, COLUMNS, MEASURED), "version": row.version}
