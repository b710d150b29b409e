from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django import forms

from followup.forms import harms, visit_decision
from followup.models.films import Calibration, HardwareOnFilm, Posture, Union, View
from followup.models.motion import InternalRotation
from followup.rules import requirements
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.services.visits import FilmFound, VisitFindings
from registry.forms.base import AskingForm, DayField, choices_of

MOTION = ("flexion_deg", "abduction_deg", "external_rotation_deg", "internal_rotation")
READING = (
    "ccd_injured_mm",
    "ccd_other_mm",
    "ccd_side_ratio_pct",
    "translation_pct",
    "union",
    "hardware",
)
FILM = (
    *("film_view", "film_calibration", "film_both_sides", *READING[:2]),
    *("union", "hardware"),
)
FILM_MORE = ("film_taken_on", "film_posture", *READING[2:4])
# What is filled in on an empty page already.
GIVEN = (
    *("version", "visited_on", "checked", "film_posture", "film_calibration"),
    "decision_version",
)
ASKED = {
    "asked_complications": requirements.SCREEN,
    "wound_checked": requirements.WOUND,
    "hardware_fine": requirements.HARDWARE,
}
NUMERIC, DECIMAL = {"inputmode": "numeric"}, {"inputmode": "decimal"}
# Asked for on every visit; what else the step asks for joins them. Fields are named by the code.
SCORES = ("pain_nrs", "quickdash", "constant", "sane")


def _degrees(label: str, *, signed: bool = False) -> forms.IntegerField:
    # A numeric keyboard has no minus.
    widget = forms.NumberInput(attrs={} if signed else NUMERIC)
    return forms.IntegerField(label=f"{label}, degrees", required=False, widget=widget)


def _mm(label: str) -> forms.DecimalField:
    return forms.DecimalField(
        label=f"{label}, mm",
        required=False,
        max_digits=4,
        decimal_places=1,
        widget=forms.NumberInput(attrs=DECIMAL),
    )


def _score(label: str, high: int) -> forms.DecimalField:
    return forms.DecimalField(
        label=label,
        required=False,
        min_value=0,
        max_value=high,
        decimal_places=2,
        widget=forms.NumberInput(attrs=DECIMAL),
    )


def _asked_scores(wanted: Iterable[str]) -> list[str]:
    codes = [item.removeprefix("score:") for item in wanted if item.startswith("score:")]
    return [code for code in codes if code in INSTRUMENTS]


class VisitForm(AskingForm):
    """One visit on one page. What was found last time is shown as a hint and never filled in."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    visited_on = DayField(label="Day of the visit")

    film_view = forms.ChoiceField(
        label="View", required=False, choices=choices_of(View, "no film today")
    )
    film_taken_on = DayField(label="Taken on (empty: the day of the visit)", required=False)
    film_posture = forms.ChoiceField(
        label="Posture", required=False, choices=Posture.choices, initial=Posture.UNKNOWN
    )
    film_calibration = forms.ChoiceField(
        label="Calibrated by",
        required=False,
        choices=Calibration.choices,
        initial=Calibration.UNKNOWN,
    )
    film_both_sides = forms.BooleanField(label="Shows both shoulders", required=False)
    ccd_injured_mm = _mm("CC distance, injured side")
    ccd_other_mm = _mm("CC distance, other side")
    ccd_side_ratio_pct = forms.DecimalField(
        label="CC distance against the other side, % (uncalibrated film)",
        required=False,
        max_digits=5,
        decimal_places=1,
        widget=forms.NumberInput(attrs=DECIMAL),
    )
    translation_pct = forms.IntegerField(
        label="Translation, % of the shaft",
        required=False,
        widget=forms.NumberInput(attrs=NUMERIC),
    )
    union = forms.ChoiceField(label="Union", required=False, choices=choices_of(Union))
    hardware = forms.ChoiceField(
        label="Hardware on the film", required=False, choices=choices_of(HardwareOnFilm)
    )

    flexion_deg = _degrees("Flexion")
    abduction_deg = _degrees("Abduction")
    external_rotation_deg = _degrees("External rotation", signed=True)
    internal_rotation = forms.ChoiceField(
        label="Internal rotation, thumb reaches",
        required=False,
        choices=choices_of(InternalRotation),
    )
    other_flexion_deg = _degrees("Flexion")
    other_abduction_deg = _degrees("Abduction")
    other_external_rotation_deg = _degrees("External rotation", signed=True)
    other_internal_rotation = forms.ChoiceField(
        label="Internal rotation, thumb reaches",
        required=False,
        choices=choices_of(InternalRotation),
    )

    passive_flexion_deg = _degrees("Flexion")
    passive_abduction_deg = _degrees("Abduction")
    passive_external_rotation_deg = _degrees("External rotation", signed=True)

    pain_nrs = forms.IntegerField(
        label="Pain, 0 to 10",
        required=False,
        min_value=0,
        max_value=10,
        widget=forms.NumberInput(attrs=NUMERIC),
    )
    quickdash = _score("QuickDASH total", 100)
    constant = _score("Constant-Murley total", 100)
    sane = _score("SANE", 100)

    asked_complications = forms.BooleanField(label="Complications asked about", required=False)
    wound_checked = forms.BooleanField(label="Wound looked at", required=False)

    hardware_fine = forms.BooleanField(label="Hardware asked about: no complaint", required=False)
    hardware_symptoms = forms.CharField(
        label="Hardware complaint",
        required=False,
        max_length=300,
        help_text="Writing something here raises the question of removal; you decide it.",
    )
    arrange_physiotherapy = forms.BooleanField(
        label="Arrange physiotherapy: a task for the coordinator", required=False
    )
    next_step_note = forms.CharField(label="What next", required=False, max_length=300)
    visit_note = forms.CharField(
        label="Note, in your own words",
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="What is recorded above is composed into the note and the letters by itself.",
    )

    def __init__(
        self,
        *args: Any,
        wanted: tuple[str, ...],
        last: Mapping[str, str],
        today: date,
        operated_on: date | None = None,
        free_items: Mapping[str, str] | None = None,
        decision: tuple[frozenset[str], int] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.wanted, self.today, self.operated_on = wanted, today, operated_on
        for line in harms.LINES:
            self.fields.update(harms.fields_of(line))
        if decision is not None:
            self.fields.update(visit_decision.fields_of(*decision))
        self.asks = dict(ASKED)
        for code, words in (free_items or {}).items():
            self.asks[f"free_{code}"] = requirements.free_item(code)
            self.fields[f"free_{code}"] = forms.BooleanField(
                label=words[:1].upper() + words[1:], required=False
            )
        if requirements.WOUND not in wanted:
            del self.fields["wound_checked"]
        self.scores = (*SCORES, *(code for code in _asked_scores(wanted) if code not in SCORES))
        for code in self.scores:
            if code not in self.fields:
                row = INSTRUMENTS[code]
                self.fields[code] = _score(f"{row.name} total", int(row.high))
        for item in wanted:
            self.fields[self.reason_name(item)] = forms.CharField(
                label=f"No {requirements.words(item, free_items)}: why not obtainable",
                required=False,
                max_length=200,
            )
        for name, words in last.items():
            if name in self.fields:
                self.fields[name].help_text = f"Last time: {words}"

    def groups(self) -> dict[str, list[str]]:
        """Return the names of the fields by the part of the page that they stand in."""
        names = list(self.fields)
        return {
            "film_fields": [name for name in FILM if name in names],
            "film_more": [name for name in FILM_MORE if name in names],
            "motion_fields": list(MOTION),
            "other_motion_fields": [f"other_{name}" for name in MOTION],
            "passive_fields": [f"passive_{name}" for name in MOTION[:3]],
            "score_fields": list(self.scores),
            "asked_fields": [name for name in ASKED if name in names and name != "hardware_fine"],
            "harm_fields": list(harms.names_of(harms.LINES[0])),
            "own_fields": [name for name in names if name.startswith("free_")],
            "decision_fields": [name for name in visit_decision.NAMES if name in names],
            "reason_fields": [name for name in names if name.startswith("why_no_")],
        }

    def more_harms(self) -> list[tuple[str, ...]]:
        """Return the names of the further lines of complications."""
        return [harms.names_of(line) for line in harms.LINES[1:]]

    @staticmethod
    def reason_name(item: str) -> str:
        return "why_no_" + item.replace(":", "_")

    def judged(self) -> dict[str, Any]:
        """Passive motion and motion of the other side are held to the same limits."""
        prefixes = ("", "other_", "passive_")
        names = (*READING[:4], *(prefix + name for prefix in prefixes for name in MOTION[:3]))
        values = {name: self.cleaned_data.get(name) for name in names}
        return {name: value for name, value in values.items() if value is not None}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        of_film = (*READING, "film_taken_on", "film_both_sides")
        if self._filled(of_film) and not cleaned.get("film_view"):
            self.add_error("film_view", "Name the view of the film that this was seen on.")
        if cleaned.get("hardware_fine") and cleaned.get("hardware_symptoms"):
            self.add_error("hardware_fine", "There is a complaint below; take out one of the two.")
        between = (self.operated_on, cleaned.get("visited_on"), self.today)
        faults = harms.faults_in(cleaned, *between) | visit_decision.faults_in(cleaned)
        for name, told in faults.items():
            self.add_error(name, told)
        if not self.errors and not self._filled(name for name in cleaned if name not in GIVEN):
            self.add_error(
                None,
                "Nothing is filled in yet. Write under 'What next' when there was nothing to find; "
                "whoever did not come is marked on the list of who is due.",
            )
        return cleaned

    def _filled(self, names: Iterable[str]) -> bool:
        """Say whether any of these fields holds something; a 0 is something, and equals False."""
        values = [self.cleaned_data.get(name) for name in names]
        return any(value is not False and value not in (None, "") for value in values)

    def findings(self, side: str) -> VisitFindings:
        """Return the visit's findings as the service takes them."""
        cleaned = self.cleaned_data
        return VisitFindings(
            films=self._films(),
            motion=self._motion(side),
            score_totals={
                code: float(cleaned[code]) for code in self.scores if cleaned.get(code) is not None
            },
            complications=harms.found_in(cleaned, cleaned["visited_on"]),
            hardware_decision=visit_decision.decided_in(cleaned),
            hardware_symptoms=cleaned["hardware_symptoms"].strip(),
            asked=[item for name, item in self.asks.items() if cleaned.get(name)],
            not_obtainable={
                item: cleaned[self.reason_name(item)].strip()
                for item in self.wanted
                if cleaned.get(self.reason_name(item), "").strip()
            },
            arrange_physiotherapy=cleaned["arrange_physiotherapy"],
            next_step_note=cleaned["next_step_note"].strip(),
            visit_note=cleaned["visit_note"].strip(),
        )

    def _films(self) -> list[FilmFound]:
        cleaned = self.cleaned_data
        if not cleaned.get("film_view"):
            return []
        film = {
            "taken_on": cleaned["film_taken_on"] or cleaned["visited_on"],
            "view": cleaned["film_view"],
            "posture": cleaned["film_posture"] or Posture.UNKNOWN,
            "calibration": cleaned["film_calibration"] or Calibration.UNKNOWN,
            "shows_both_sides": cleaned["film_both_sides"],
        }
        reading = {name: cleaned[name] for name in READING if cleaned.get(name) not in (None, "")}
        if reading and self.flags:
            reading["flags"] = [name for name in self.flags if name in READING]
        return [FilmFound(film, reading)]

    def _motion(self, side: str) -> list[dict[str, Any]]:
        other = "right" if side == "left" else "left"
        exams = []
        for which, mode, prefix in (
            (side, "active", ""),
            (side, "passive", "passive_"),
            (other, "active", "other_"),
        ):
            values = {
                name: self.cleaned_data[prefix + name]
                for name in MOTION
                if self.cleaned_data.get(prefix + name) not in (None, "")
            }
            if values:
                flags = [name for name in MOTION if prefix + name in self.flags]
                exams.append({"side": which, "mode": mode, "flags": flags, **values})
        return exams
