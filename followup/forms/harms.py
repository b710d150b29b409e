"""The complications of one visit: several lines, each empty unless its kind is chosen."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms

from followup.models.complications import ComplicationGrade, ComplicationKind, Relation
from registry.forms.base import DayField, PartialDateField, choices_of

# What follows the names of each line's fields.
LINES = ("", "_2", "_3", "_4")
PARTS = ("kind", "grade", "relation", "action", "began", "ended")


def fields_of(line: str) -> dict[str, forms.Field]:
    """Return the fields of one line, by name."""
    made: dict[str, forms.Field] = {
        "kind": forms.ChoiceField(
            label="Complication", required=False, choices=choices_of(ComplicationKind, "none new")
        ),
        "grade": forms.ChoiceField(
            label="Grade (Clavien-Dindo)", required=False, choices=choices_of(ComplicationGrade)
        ),
        "relation": forms.ChoiceField(
            label="Related to", required=False, choices=choices_of(Relation)
        ),
        "action": forms.CharField(label="What was done", required=False, max_length=300),
        "began": PartialDateField(label="Began", required=False),
        "ended": DayField(label="Ended on (empty: not ended)", required=False),
    }
    return {f"complication_{part}{line}": made[part] for part in PARTS}


def names_of(line: str) -> tuple[str, ...]:
    """Return the names of one line's fields."""
    return tuple(f"complication_{part}{line}" for part in PARTS)


def found_in(cleaned: Mapping[str, Any], seen_on: date) -> list[dict[str, Any]]:
    """Return the complications that were entered, in the columns of their rows.

    What began in a month or year that is not over was still seen on the day of the visit.
    """
    found = []
    for line in LINES:
        said = {part: cleaned.get(f"complication_{part}{line}") for part in PARTS}
        if not said["kind"]:
            continue
        began = said["began"]
        found.append(
            {
                "kind": said["kind"],
                "grade": said["grade"] or ComplicationGrade.UNKNOWN,
                "relation": said["relation"] or Relation.UNKNOWN,
                "action": said["action"] or "",
                "detected_on": seen_on,
                "onset_earliest": None if began is None else min(began.earliest, seen_on),
                "onset_latest": None if began is None else min(began.latest, seen_on),
                "resolved_on": said["ended"],
            }
        )
    return found


def faults_in(
    cleaned: Mapping[str, Any], operated_on: date | None, seen_on: date | None, today: date
) -> dict[str, str]:
    """Return what is wrong with the lines, by field: no kind, or days that cannot be.

    `seen_on` is None where the day of the visit is itself refused.
    """
    faults = {}
    for line in LINES:
        kind, *others = names_of(line)
        if any(cleaned.get(name) for name in others) and not cleaned.get(kind):
            faults[kind] = "Say which complication this is about."
        began = cleaned.get(f"complication_began{line}")
        ended = cleaned.get(f"complication_ended{line}")
        if began is not None and operated_on is not None and began.latest < operated_on:
            faults[f"complication_began{line}"] = f"This is before the operation ({operated_on})."
        if began is not None and seen_on is not None and began.earliest > seen_on:
            faults[f"complication_began{line}"] = "This is after the visit at which it was seen."
        if ended is not None and ended > today:
            faults[f"complication_ended{line}"] = f"{ended} is in the future."
        elif ended is not None and seen_on is not None and ended < seen_on:
            faults[f"complication_ended{line}"] = (
                "It was seen at this visit; give its day or a later one, or leave this empty."
            )
    return faults
