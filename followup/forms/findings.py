from collections.abc import Mapping
from typing import Any

from django import forms

from followup.models.films import FractureLine, Reading
from followup.rules import findings, union
from followup.rules.findings import (
    ABSENT,
    KINDS,
    NOT_APPLICABLE,
    NOT_ASSESSABLE,
    PRESENT,
    Found,
    Kind,
    Offer,
)
from followup.selectors.findings import found_in
from registry.forms.base import PlainForm
from registry.forms.measured import MeasuringForm
from registry.rules.missing import NOT_DONE, UNKNOWN

PREFIX = "finding_"
REST = "rest_absent"
BRIDGING = ("cortices_bridged", "fracture_line")
CORTICES = [
    ("", "not counted"),
    *((str(number), f"{number} of {union.CORTICES}") for number in range(union.CORTICES + 1)),
    (UNKNOWN, "cannot be judged"),
]


def choices_for(kind: Kind) -> list[tuple[str, str]]:
    """Return the answers to one kind of finding: a grade and a place are chosen with 'yes'."""
    if kind.grades:
        there = [(f"{PRESENT}:{grade}", f"{grade}: {told}") for grade, told in kind.grades.items()]
    else:
        there = [(PRESENT, "yes")]
        there += [(f"{PRESENT}:{place}", f"yes, {told}") for place, told in kind.places.items()]
    without = [(NOT_APPLICABLE, "not applicable")] if kind.needs else []
    return [
        ("", "not looked for"),
        (ABSENT, "no"),
        *there,
        (NOT_ASSESSABLE, "cannot be judged"),
        *without,
    ]


def code_of(found: Found) -> str:
    """Return a finding as the code of its answer."""
    more = found.grade or found.place
    return f"{found.state}:{more}" if more else found.state


def found_of(kind: str, code: str) -> Found:
    """Return the finding that an answer's code stands for."""
    state, _, more = code.partition(":")
    if KINDS[kind].grades and more:
        return Found(kind, state, int(more))
    return Found(kind, state, place=more)


def findings_now(reading: Reading) -> dict[str, Any]:
    """Return the findings and the bridging of a reading as the form starts from them."""
    counted = reading.cortices_bridged
    missing = reading.missing.get("cortices_bridged", "")
    return {
        **{f"{PREFIX}{one.kind}": code_of(one) for one in found_in(reading)},
        "cortices_bridged": (UNKNOWN if missing == UNKNOWN else "")
        if counted is None
        else str(counted),
        "fracture_line": reading.fracture_line,
    }


class FindingsForm(MeasuringForm):
    """What a reading's form asks beyond lengths: findings, bridging, and what follows from both.

    `offer` says which kinds are asked for and which stand apart; `least` is how many bridged cortices
    the site's rule of union asks for. A form on this one has the fields `union` and `hardware`, which
    may be left open where the rule, or the findings, say them.
    """

    def __init__(
        self, *args: Any, offer: Offer, least: int, asks_bridging: bool, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.offer, self.least, self.asks_bridging = offer, least, asks_bridging
        self.fields["cortices_bridged"] = forms.ChoiceField(
            label="Cortices bridged", choices=CORTICES, required=False
        )
        self.fields["fracture_line"] = forms.ChoiceField(
            label="Fracture line",
            choices=[(code, str(words).lower()) for code, words in FractureLine.choices],
            required=False,
            initial=FractureLine.NOT_DONE,
        )
        for kind in (*offer.fitting, *offer.others):
            self.fields[f"{PREFIX}{kind.code}"] = forms.ChoiceField(
                label=kind.words[:1].upper() + kind.words[1:],
                choices=choices_for(kind),
                required=False,
            )
        # The kinds that stood on the page: only what was shown can be called absent by one tick.
        shown = " ".join(kind.code for kind in offer.fitting)
        self.fields["findings_shown"] = forms.CharField(
            required=False, initial=shown, widget=forms.HiddenInput
        )
        self.fields[REST] = forms.BooleanField(
            label="None of these, or none of the rest: each was looked for", required=False
        )

    def typed(self) -> list[Any]:
        """Return the shown fields that stand before the findings."""
        return [
            field
            for field in self.visible_fields()
            if field.name not in (*BRIDGING, REST, "checked") and not field.name.startswith(PREFIX)
        ]

    def fitting(self) -> list[Any]:
        """Return the fields that are asked for at once."""
        bridging = [self[name] for name in BRIDGING] if self.asks_bridging else []
        return [*bridging, *(self[f"{PREFIX}{kind.code}"] for kind in self.offer.fitting)]

    def others(self) -> list[Any]:
        """Return the fields that stand apart."""
        bridging = [] if self.asks_bridging else [self[name] for name in BRIDGING]
        return [*bridging, *(self[f"{PREFIX}{kind.code}"] for kind in self.offer.others)]

    def others_open(self) -> bool:
        """Say whether a field that stands apart holds something, and has to be in sight."""
        empty = ("", None, FractureLine.NOT_DONE)
        return any(one.errors or one.value() not in empty for one in self.others())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self._call_the_rest_absent(cleaned)
        self._settle_hardware(cleaned)
        self._settle_union(cleaned)
        return cleaned

    def found(self) -> list[Found]:
        """Return the findings that were looked for."""
        return self._found_in(self.cleaned_data)

    def bridging(self) -> dict[str, Any]:
        """Return the columns of the reading about bridging, with what is missing of them."""
        told = self.cleaned_data["cortices_bridged"]
        counted = int(told) if told.isdecimal() else None
        missing = {} if counted is not None else {"cortices_bridged": told or NOT_DONE}
        return {
            "cortices_bridged": counted,
            "fracture_line": self.cleaned_data["fracture_line"] or FractureLine.NOT_DONE,
            "missing": missing,
        }

    def otherwise(self) -> str:
        """Return how the stated union differs from the site's rule, in words; '' where it does not."""
        return union.disagreement(self.cleaned_data["union"], self._by_rule(self.cleaned_data))

    def stood_otherwise(self) -> str:
        """Return how the union that is saved differs from the site's rule; '' where it does not."""
        by_rule = self._by_rule(self.initial)
        return union.disagreement(self.initial.get("union", ""), by_rule)

    def _found_in(self, cleaned: Mapping[str, Any]) -> list[Found]:
        answers = ((kind, cleaned.get(f"{PREFIX}{kind}")) for kind in KINDS)
        return [found_of(kind, code) for kind, code in answers if code]

    def _call_the_rest_absent(self, cleaned: dict[str, Any]) -> None:
        if not cleaned.get(REST):
            return
        shown = set((cleaned.get("findings_shown") or "").split())
        for kind in (one.code for one in self.offer.fitting if one.code in shown):
            name = f"{PREFIX}{kind}"
            if name not in self.errors:
                cleaned[name] = cleaned.get(name) or ABSENT

    def _settle_hardware(self, cleaned: dict[str, Any]) -> None:
        """Let the findings say the hardware where it was left open."""
        if "hardware" in self.errors or cleaned.get("hardware"):
            return
        found = self._found_in(cleaned)
        follows = findings.summary_of(found)
        if not follows and findings.is_all_in_place(found, self.offer.fitting):
            follows = "intact"
        if follows:
            cleaned["hardware"] = follows
        else:
            self.add_error(
                "hardware",
                "Choose one; it follows by itself only from what the findings say of it.",
            )

    def _settle_union(self, cleaned: dict[str, Any]) -> None:
        """Propose the union of the site's rule where it was left open; the reader has to keep it."""
        if "union" in self.errors or cleaned.get("union"):
            return
        by_rule = self._by_rule(cleaned)
        if by_rule is None:
            self.add_error("union", "This field is required.")
            return
        self.data = self.data.copy()
        self.data[self.add_prefix("union")] = by_rule.union
        self.add_error(
            "union",
            f"By this site's rule it is {by_rule.words} ({by_rule.why}). That is chosen here now: "
            "save again to keep it, or choose another.",
        )

    def _by_rule(self, cleaned: Mapping[str, Any]) -> Any:
        told = cleaned.get("cortices_bridged") or ""
        counted = int(told) if told.isdecimal() else None
        line = cleaned.get("fracture_line") or FractureLine.NOT_DONE
        return union.proposed(counted, line, least=self.least)


class UnionRuleForm(PlainForm):
    """How many bridged cortices a site's rule asks for."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    min_bridged_cortices = forms.IntegerField(
        label="Cortices that have to be bridged, of four",
        min_value=1,
        max_value=union.CORTICES,
        help_text=f"Shipped: {union.SHIPPED_MIN}. Common practice, no source; two to three are asked "
        "for in practice. A fracture line that is still seen leaves it partly united.",
    )
