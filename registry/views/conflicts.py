"""Showing what somebody else saved beside what was typed, so that nothing is merged silently."""

from collections.abc import Callable, Mapping
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest

from registry.errors import BadInput, HoldfastError, StaleVersion
from registry.forms.base import PlainForm
from registry.forms.measured import Measured
from registry.rules import dates, missing


def try_to_save(
    request: HttpRequest,
    form: PlainForm,
    save: Callable[[], str],
    saved_now: Callable[[], Mapping[str, Any]],
) -> tuple[bool, dict[str, Any] | None]:
    """Save a valid form; return whether it was saved, and the conflict when somebody was quicker.

    `saved_now` gives the row's present values as the form would start from them.
    """
    try:
        messages.success(request, save())
        return True, None
    except StaleVersion as fault:
        return False, conflict_of(form, saved_now(), fault)
    except BadInput as fault:
        form.refuse(fault)
    except HoldfastError as fault:
        form.add_error(None, str(fault))
    return False, None


def conflict_of(form: PlainForm, now: Mapping[str, Any], fault: StaleVersion) -> dict[str, Any]:
    """Compare what is saved now with what was typed, and let the next try be over what is saved."""
    form.data = form.data.copy()
    form.data["version"] = str(fault.current)
    differences = []
    for name, field in form.fields.items():
        if name not in now or name == "version":
            continue
        theirs, yours = in_words(field, now[name]), in_words(field, form.cleaned_data.get(name))
        if theirs != yours:
            differences.append({"label": field.label, "theirs": theirs, "yours": yours})
    return {"message": str(fault), "differences": differences}


def in_words(field: forms.Field, value: Any) -> str:
    """Write a form's value as a person reads it."""
    if isinstance(value, Measured):
        return missing.words(value.value, "it", {"it": value.missing})
    if isinstance(value, dates.Bounds):
        return dates.written(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return ", ".join(in_words(field, one) for one in value) or "nothing"
    if value in (None, ""):
        return "nothing"
    if isinstance(field, forms.ChoiceField) and not isinstance(field, forms.ModelChoiceField):
        return str(dict(_flat(field.choices)).get(str(value), value))
    return str(value)


def _flat(choices: Any) -> list[tuple[str, str]]:
    pairs: list[tuple[str, str]] = []
    for code, words in choices:
        pairs.extend(words if isinstance(words, list | tuple) else [(str(code), str(words))])
    return pairs
