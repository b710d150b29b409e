"""The decision about hardware as a part of the visit's page."""

from collections.abc import Mapping
from typing import Any

from django import forms

from followup.forms.hardware import STATES
from followup.services.visits import HardwareDecided
from registry.forms.base import DayField

NAMES = (
    "decision_version",
    "decision_state",
    "decision_wish_on",
    "decision_deferred_until",
    "decision_reason",
)


def fields_of(possible: frozenset[str], version: int) -> dict[str, forms.Field]:
    """Return the fields that decide an open question; `possible` are the states it can go to."""
    choices = [(state.value, state.label) for state in STATES if state.value in possible]
    return {
        "decision_version": forms.IntegerField(
            widget=forms.HiddenInput, required=False, initial=version
        ),
        "decision_state": forms.ChoiceField(
            label="Decision today", required=False, choices=[("", "none today"), *choices]
        ),
        "decision_wish_on": DayField(label="Wished date of removal", required=False),
        "decision_deferred_until": DayField(label="Ask again on", required=False),
        "decision_reason": forms.CharField(
            label="Why (needed to defer or decline)", required=False, max_length=300
        ),
    }


def decided_in(cleaned: Mapping[str, Any]) -> HardwareDecided | None:
    """Return what was decided; None where nothing was."""
    if not cleaned.get("decision_state"):
        return None
    values = {
        "deferred_until": cleaned["decision_deferred_until"],
        "reason": cleaned["decision_reason"].strip(),
    }
    if cleaned["decision_wish_on"] is not None:
        values["wish_on"] = cleaned["decision_wish_on"]
    return HardwareDecided(cleaned["decision_state"], values, cleaned["decision_version"] or 0)


def faults_in(cleaned: Mapping[str, Any]) -> dict[str, str]:
    """Return what is wrong with the decision, by field."""
    others = ("decision_wish_on", "decision_deferred_until", "decision_reason")
    if any(cleaned.get(name) for name in others) and not cleaned.get("decision_state"):
        return {"decision_state": "Say what was decided."}
    return {}


def named(fault: str) -> str:
    """Return this form's name for a field of the decision."""
    return f"decision_{fault}"
