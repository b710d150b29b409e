from collections.abc import Iterable, Mapping
from typing import Any

from django import forms

from registry.forms.base import PlainForm, choices_of
from registry.models.implants import PartKind
from registry.rules.labels import Label
from registry.rules.scan_list import Line
from registry.services.implants import LabelGiven

PREFIX = "line"
MOST_CHARACTERS = 900


class ScanForm(PlainForm):
    """The one field into which a scanner types. Spaces at an end may belong to a label."""

    scan = forms.CharField(
        label="Scan a label, or paste its text",
        required=False,
        strip=False,
        widget=forms.TextInput(
            attrs={
                "autocomplete": "off",
                "autocapitalize": "off",
                "spellcheck": "false",
                "data-scan-field": "",
            }
        ),
        help_text="The scanner ends each label with Enter. Labels of two symbols: scan both.",
    )


class LineForm(PlainForm):
    """One scanned label with what a person adds to it; only what is asked of it has fields."""

    text = forms.CharField(strip=False, max_length=MOST_CHARACTERS, widget=forms.HiddenInput)
    reading = forms.TypedChoiceField(
        label="What does the label say?", coerce=int, widget=forms.RadioSelect
    )
    sure = forms.BooleanField(label="I have compared this with the label", required=False)
    kind = forms.ChoiceField(label="Part", choices=choices_of(PartKind), required=False)
    description = forms.CharField(
        label="In generic words",
        max_length=120,
        required=False,
        help_text="For example: locking screw 2.3 mm. Empty, it is a draft to be described.",
    )
    quantity = forms.IntegerField(label="How many", min_value=1, max_value=40)
    batch = forms.CharField(label="Batch, typed", max_length=40, required=False)
    batch_not_obtainable = forms.BooleanField(label="Batch not obtainable (tray)", required=False)
    kept_because = forms.CharField(label="Why it was kept", max_length=300, required=False)
    drop = forms.BooleanField(label="Leave this one out", required=False)

    def __init__(
        self, *args: Any, label: Label, needs_words: bool, warned: bool, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.label = label
        if label.readings:
            said = [label, *label.readings]
            self.fields["reading"].choices = [(n, words_of(one)) for n, one in enumerate(said)]
        unasked = {
            "reading": not label.readings,
            "sure": not label.doubts or bool(label.readings),
            "kind": not needs_words,
            "description": not needs_words,
            "quantity": bool(label.serial),
            "batch": bool(label.batch or label.serial or label.readings),
            "batch_not_obtainable": bool(label.batch or label.serial or label.readings),
            "kept_because": not warned,
        }
        for name in (name for name, is_so in unasked.items() if is_so):
            del self.fields[name]

    def given(self) -> LabelGiven:
        """Return the label as the service takes it; a chosen reading was looked at."""
        cleaned = dict(self.cleaned_data)
        cleaned.pop("drop", None)
        chosen = "reading" in self.fields
        return LabelGiven(**{**cleaned, "sure": chosen or cleaned.get("sure", False)})


def words_of(label: Label) -> str:
    """Return one way to read a label in words."""
    said = (
        ("batch", label.batch),
        ("serial number", label.serial),
        ("made on", label.made_on),
        ("expires on", label.expires_on),
        ("catalogue number", label.catalogue_number),
    )
    production = ", ".join(f"{word} {value}" for word, value in said if value)
    return production or f"article {label.device_identifier}"


def posted_lines(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the lines of a list as they were sent, those left out aside.

    A line ending that a browser put between two symbols is one again.
    """
    lines = []
    for number in sorted(_numbers(data)):
        start = f"{PREFIX}-{number}-"
        line = {name.removeprefix(start): data[name] for name in data if name.startswith(start)}
        if line.get("text") and "drop" not in line:
            lines.append({**line, "text": line["text"].replace("\r\n", "\n")})
    return lines


def _numbers(data: Iterable[str]) -> set[int]:
    found = set()
    for name in data:
        first, _, rest = name.partition("-")
        number = rest.partition("-")[0]
        if first == PREFIX and number.isdecimal() and len(number) < 4:
            found.add(int(number))
    return found


def initial_of(line: Line, posted: Mapping[str, Any] | None) -> dict[str, Any]:
    """Return what a line's fields start from: what was sent before, and how many there are now."""
    before = dict(posted or {})
    number = str(before.get("quantity") or line.label.quantity or 1)
    pieces = int(number) if number.isdecimal() else 1
    return {**before, "text": line.label.raw, "quantity": pieces + line.again}
