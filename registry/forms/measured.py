from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms

from registry.forms.base import AskingForm
from registry.rules import missing

WHY_EMPTY = [("", "why empty?"), *missing.KINDS.items()]


@dataclass(frozen=True)
class Measured:
    """A number, or the way in which it is missing, or neither: not recorded."""

    value: Decimal | None = None
    missing: str = ""


class MeasuredWidget(forms.MultiWidget):
    """A number and, beside it, why it is missing."""

    template_name = "registry/widgets/measured.html"
    use_fieldset = False

    def __init__(self, label: str, step: str) -> None:
        number = forms.NumberInput(attrs={"step": step})
        why = forms.Select(choices=WHY_EMPTY, attrs={"aria-label": f"{label}: why it is missing"})
        super().__init__({"": number, "why": why})

    def decompress(self, value: Measured | None) -> list[Any]:
        return [value.value, value.missing] if value is not None else [None, ""]

    def id_for_label(self, id_: str) -> str:
        return f"{id_}_0" if id_ else id_


class MeasuredField(forms.MultiValueField):
    """A measured value that may be unknown, not done or not applicable; gives a Measured."""

    def __init__(self, label: str, *, decimals: int = 0, help_text: str = "") -> None:
        number = (
            forms.DecimalField(max_digits=5, decimal_places=decimals, required=False)
            if decimals
            else forms.IntegerField(required=False)
        )
        super().__init__(
            fields=(number, forms.ChoiceField(choices=WHY_EMPTY, required=False)),
            widget=MeasuredWidget(label, "0.1" if decimals else "1"),
            require_all_fields=False,
            required=False,
            label=label,
            help_text=help_text,
        )

    def compress(self, data_list: list[Any]) -> Measured:
        if not data_list:
            return Measured()
        value, why = data_list
        value = None if value in (None, "") else value
        faults = missing.faults({"it": why} if why else {}, {"it": value})
        if faults:
            raise forms.ValidationError(f"It {faults['it']}.")
        return Measured(value, why or "")


class MeasuringForm(AskingForm):
    """A form whose measured fields give values, kinds of missing and flags for a clinical row."""

    def judged(self) -> Mapping[str, Any]:
        return {
            name: value.value if isinstance(value, Measured) else value
            for name, value in self.cleaned_data.items()
        }

    def row_values(self, names: Iterable[str]) -> dict[str, Any]:
        """Return the columns that were filled in, with `missing` and `flags`."""
        values: dict[str, Any] = {}
        absent: dict[str, str] = {}
        for name in names:
            value = self.cleaned_data[name]
            if isinstance(value, Measured):
                values[name] = value.value
                if value.missing:
                    absent[name] = value.missing
            else:
                values[name] = value
        return {**values, "missing": absent, "flags": list(self.flags)}


def initial_of(row: Any, names: Iterable[str], measured: Iterable[str]) -> dict[str, Any]:
    """Return a row's values as a measuring form starts from them."""
    numbers = set(measured)
    return {
        name: (
            Measured(getattr(row, name), row.missing.get(name, ""))
            if name in numbers
            else getattr(row, name)
        )
        for name in names
    }
