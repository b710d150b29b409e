from typing import Any

from django import forms

from followup.models.readings import Draw
from registry.forms.base import DayField, PlainForm

POLICY = (
    "draw",
    "share_pct",
    "seed",
    "taken_from",
    "near_change_mm",
    "near_ratio_pct",
    "near_margin_pct",
    "mdc_mm",
    "third_mm",
    "third_pct",
)


def _number(label: str, help_text: str, most: int = 30) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, min_value=0.1, max_value=most, decimal_places=1, help_text=help_text
    )


class ReadingPolicyForm(PlainForm):
    """Which of its films a site has read twice."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    draw = forms.ChoiceField(
        label="Films that are read a second time, blind",
        choices=Draw.choices,
        help_text="Shipped: no film. A second reader sees neither the name nor the first reading.",
    )
    share_pct = forms.IntegerField(
        label="The random share, %",
        min_value=1,
        max_value=100,
        help_text="Shipped: 10. Common practice, no source. A larger share keeps what was drawn.",
    )
    seed = forms.CharField(
        label="The draw starts from",
        max_length=40,
        help_text="Any word or number. The same one always draws the same films; another draws others.",
    )
    taken_from = DayField(
        label="Films taken from this day on",
        required=False,
        help_text="Empty: every film that was ever read.",
    )
    near_change_mm = _number(
        "Near a rise of the CC distance since the first film of, mm",
        "Shipped: 3 mm (J Orthop Surg Res 2020, s13018-020-01674-x).",
    )
    near_ratio_pct = _number(
        "Near a CC distance above the other side's by, %",
        "Shipped: 25 % (Mori et al., JBJS Open Access 2017;2:e0007).",
        300,
    )
    near_margin_pct = _number(
        "Near means within so many points of that share",
        "Shipped: 20, what 2 mm are of a healthy 10 mm. No source.",
        300,
    )
    mdc_mm = _number(
        "Minimal detectable change of a CC distance, mm",
        "Shipped: 2 mm, from memory. A rise is near its threshold within so many mm. "
        "'Do the readers agree?' offers what the site's own double readings say.",
    )
    third_mm = _number(
        "A third reader is asked where two CC distances lie apart by more than, mm",
        "Shipped: 2 mm, the minimal detectable change. Common practice, no source.",
    )
    third_pct = _number(
        "or their shares of the other side by more points than",
        "Shipped: 20. Common practice, no source.",
        300,
    )

    def policy(self) -> dict[str, Any]:
        """Return the columns of the policy."""
        return {name: self.cleaned_data[name] for name in POLICY}
