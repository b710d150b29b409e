from typing import Any

from django import forms

from followup.models.scores import ScoreMode
from followup.rules.scores import catalogue
from followup.rules.scores.result import Item
from registry.forms.base import DayField, PlainForm


class ItemsForm(PlainForm):
    """One instrument's answers by the item's number, without wording that is not ours."""

    taken_on = DayField(label="Answered on")
    mode = forms.ChoiceField(label="How", choices=ScoreMode.choices, initial=ScoreMode.CLINIC)

    def __init__(self, *args: Any, code: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.code = code
        form = catalogue.OLDER_FORMS.get(code) or catalogue.INSTRUMENTS[code]
        for item in form.items:
            self.fields[self.name_of(item.number)] = _field(item)

    @staticmethod
    def name_of(number: int) -> str:
        return f"item_{number}"

    def answers(self) -> dict[int, float]:
        """Return what was answered; an item left empty is missing, and a 0 is an answer."""
        return {
            int(name.removeprefix("item_")): float(value)
            for name, value in self.cleaned_data.items()
            if name.startswith("item_") and value is not None
        }

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if not self.errors and not self.answers():
            self.add_error(None, "No item is answered yet; write each answer by its number.")
        return cleaned


def _field(item: Item) -> forms.Field:
    words = f"{item.number}: {item.words}" if item.words else f"Item {item.number}"
    label = words if item.words else f"{words}, {item.low:g} to {item.high:g}"
    given: dict[str, Any] = {
        "label": label,
        "required": False,
        "min_value": item.low,
        "max_value": item.high,
    }
    if item.whole:
        return forms.IntegerField(**given)
    return forms.DecimalField(max_digits=6, decimal_places=2, **given)
