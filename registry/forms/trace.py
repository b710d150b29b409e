from typing import Any

from django import forms

from registry.forms.base import DayField, PlainForm, choices_of
from registry.models.implants import PartKind
from registry.rules import batches
from registry.rules.notice_matching import Scope
from registry.selectors.trace import Question

NUMBER = {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
# What is shown at once; the rest is folded until it is used.
ABOVE = ("device_identifier", "catalogue_number", "batch", "batch_to", "serial", "serial_to")


class NumberField(forms.CharField):
    """A number of an article or a part, as it is typed or scanned."""

    def __init__(self, label: str, **more: Any) -> None:
        widget = forms.TextInput(attrs=NUMBER)
        super().__init__(label=label, required=False, max_length=40, widget=widget, **more)


class TraceForm(PlainForm):
    """What is sought: everything that is given has to fit."""

    device_identifier = NumberField("Device identifier")
    catalogue_number = NumberField("Catalogue number")
    batch = NumberField("Batch")
    batch_to = NumberField("to batch")
    serial = NumberField("Serial number")
    serial_to = NumberField("to serial number")
    kind = forms.ChoiceField(label="Part", choices=choices_of(PartKind, "any part"), required=False)
    words = forms.CharField(label="Words of the model", required=False, max_length=80)
    site = forms.ChoiceField(label="Site", required=False)
    operated_from = DayField(label="Operated from", required=False)
    operated_to = DayField(label="Operated to", required=False)
    expires_from = DayField(label="Expires from", required=False)
    expires_to = DayField(label="Expires to", required=False)

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].choices = [("", "every site"), *((one.pk, str(one)) for one in sites)]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        for name in ("batch", "serial"):
            cleaned[f"{name}_span"] = self._span(name)
        for name in ("operated", "expires"):
            first, last = cleaned.get(f"{name}_from"), cleaned.get(f"{name}_to")
            if first and last and last < first:
                self.add_error(f"{name}_to", f"This is before {first}.")
        if bool(cleaned.get("expires_from")) != bool(cleaned.get("expires_to")):
            self.add_error("expires_to", "Give both ends of the days of expiry.")
        return cleaned

    def _span(self, name: str) -> batches.Span | None:
        first, last = self.cleaned_data.get(name), self.cleaned_data.get(f"{name}_to")
        if not first and not last:
            return None
        try:
            return batches.span(first or "", last or "")
        except ValueError as fault:
            self.add_error(f"{name}_to", str(fault))
            return None

    @property
    def has_more(self) -> bool:
        """Say whether anything is asked beyond the numbers."""
        return any(self.data.get(name) for name in self.fields if name not in ABOVE)

    def above(self) -> list[Any]:
        return [self[name] for name in ABOVE]

    def below(self) -> list[Any]:
        return [self[name] for name in self.fields if name not in ABOVE]

    def question(self) -> Question:
        """Return what was asked, of a form that is valid."""
        given = self.cleaned_data
        expires = (given["expires_from"], given["expires_to"]) if given["expires_from"] else None
        return Question(
            scope=Scope(
                device_identifier=given["device_identifier"],
                catalogue_number=given["catalogue_number"],
                batch=given["batch_span"],
                serial=given["serial_span"],
                expires=expires,
            ),
            kind=given["kind"],
            words=given["words"],
            sites=(int(given["site"]),) if given["site"] else (),
            operated_from=given["operated_from"],
            operated_to=given["operated_to"],
        )
