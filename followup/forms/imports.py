from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from followup.rules.case_columns.catalogue import BY_GROUP, BY_NAME
from followup.rules.case_columns.column import Column, Kind
from followup.rules.case_columns.followed import COMPLICATION_NUMBERS, TIMEPOINTS
from followup.rules.case_translation import COMMA, EMPTY, NAMES, REFUSE, THOUSANDS, Translation
from followup.rules.column_survey import word_key
from followup.rules.import_questions import DayQuestion, WordQuestion
from registry.forms.base import PlainForm
from registry.models.sites import Site
from registry.rules import encodings
from registry.rules.date_styles import COUNTED, IN_WORDS, DateStyle

MEGABYTE = 1024 * 1024
MOST_MEGABYTES = 100
# A list of our fields in each row makes a page of many columns heavy; then they share one.
MOST_LISTS = 80
SEPARATORS = {
    "": "as the file shows",
    ",": "comma",
    ";": "semicolon",
    "\t": "tab",
    "|": "upright line |",
}
GROUPS = {
    "person": "Patient",
    "injury": "Injury",
    "class": "Classification",
    "procedure": "Operation",
    "construct": "Construct",
    "departure": "Construct",
    "film": "Films, as a whole",
    "baseline": "First film",
    "status": "How follow-up ended",
    "revision": "Later operations",
    "removal": "Later operations",
}
SAME_FOR_ALL = (
    "injury_kind",
    "side",
    "construct_type",
    "film_view",
    "film_posture",
    "film_weighted",
    "film_calibration",
)
REPEATED = (
    "baseline",
    *(f"f{time}" for time in TIMEPOINTS),
    *(f"complication_{number}" for number in COMPLICATION_NUMBERS),
)
LEAVE_EMPTY = "="


class UploadForm(PlainForm):
    """A file of cases and the site that they are of."""

    site = forms.ModelChoiceField(label="Site", queryset=Site.objects.none(), empty_label=None)
    file = forms.FileField(
        label="File of cases",
        max_length=200,
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
        help_text=f"CSV or XLSX, at most {MOST_MEGABYTES} MB, with any names of columns in any order. "
        "Nothing is imported yet: you see first what would be.",
        error_messages={"required": "Choose a file.", "empty": "This file is empty."},
    )

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites

    def clean_file(self) -> Any:
        given = self.cleaned_data["file"]
        if given.size > MOST_MEGABYTES * MEGABYTE:
            raise forms.ValidationError(
                f"This file has {given.size / MEGABYTE:.1f} MB; at most {MOST_MEGABYTES} MB are "
                "taken here. Split it, or have it imported by the import_cases command."
            )
        return given


class TextForm(PlainForm):
    """In which encoding a text file is written, shown by its accented words, and its separator."""

    encoding = forms.ChoiceField(
        label="Which of these reads the names rightly?", widget=forms.RadioSelect
    )
    separator = forms.ChoiceField(
        label="What stands between two values", choices=list(SEPARATORS.items()), required=False
    )

    def __init__(self, *args: Any, previews: Sequence[Mapping[str, Any]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["encoding"].choices = [
            (one["encoding"], f"{', '.join(one['words'])} ({one['name']})") for one in previews
        ] or list(encodings.NAMES.items())


class ColumnsForm(PlainForm):
    """Our field for each column of a file, and values that hold for all of its rows."""

    def __init__(
        self,
        *args: Any,
        header: Sequence[str],
        settled: Translation,
        listed: Mapping[str, Sequence[str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.header = header
        chosen = {use.header: use.column for use in settled.uses}
        self.shares_list = len(header) > MOST_LISTS
        for place, name in enumerate(header):
            self.fields[f"column_{place}"] = self._field(name, chosen.get(name, ""))
        for name in SAME_FOR_ALL:
            codes = listed.get(name) or BY_NAME[name].allowed
            self.fields[f"same_{name}"] = forms.ChoiceField(
                label=_meaning(BY_NAME[name]),
                choices=[("", "given by a column, or not known"), *((one, one) for one in codes)],
                required=False,
                initial=settled.same_for_all.get(name, ""),
            )

    def _field(self, name: str, chosen: str) -> forms.Field:
        if self.shares_list:
            return forms.CharField(
                label=name,
                required=False,
                initial=chosen,
                widget=forms.TextInput(attrs={"list": "our-fields"}),
            )
        return forms.ChoiceField(label=name, choices=our_fields, required=False, initial=chosen)

    def columns(self) -> list[Any]:
        """The fields of the columns, in the order of the file."""
        return [self[f"column_{place}"] for place in range(len(self.header))]

    def same(self) -> list[Any]:
        """The fields of what holds for every row."""
        return [self[f"same_{name}"] for name in SAME_FOR_ALL]

    def settled_fields(self) -> dict[str, str]:
        """Return our field by column, '' where it is left out."""
        return {
            name: self.cleaned_data[f"column_{place}"].strip()
            for place, name in enumerate(self.header)
        }

    def settled_for_all(self) -> dict[str, str]:
        """Return what holds for every row."""
        given = {name: self.cleaned_data[f"same_{name}"] for name in SAME_FOR_ALL}
        return {name: value for name, value in given.items() if value}


# What is asked of columns one by one and can be answered for all of them at once: in what words.
FOR_ALL = {
    "order": "Day, month and year",
    "years": "Years of two digits",
    "count": "Numbers of days",
    "decimal": "A comma in numbers",
}


class DaysForm(PlainForm):
    """How the days of each column are written, and what a comma in its numbers is.

    What is open in several columns can be said once for all; a column that says something else keeps it.
    """

    def __init__(
        self, *args: Any, questions: Sequence[DayQuestion], this_year: int, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.questions = questions
        self.open: dict[str, list[str]] = {kind: [] for kind in FOR_ALL}
        self.choices: dict[str, Sequence[Any]] = {
            "order": list(IN_WORDS.items()),
            "years": _hundreds(this_year),
            "count": [(year, f"counted from {year}") for year in COUNTED],
            "decimal": _commas(),
        }
        for place, one in enumerate(questions):
            if one.settled is None:
                self._add("decimal", place, "A comma in these numbers", one.use.decimal)
                continue
            said = one.use.dates
            if one.settled.asks_order or one.settled.style.order:
                order = said.order or one.settled.style.order
                self._add("order", place, FOR_ALL["order"], order, one.settled.asks_order)
                self._only(f"order_{place}", one.settled.orders)
            if one.settled.asks_years:
                self._add("years", place, FOR_ALL["years"], said.last_year)
            if one.settled.asks_count:
                self._add("count", place, FOR_ALL["count"], said.counts_from)
        self._add_for_all()

    def _add(self, kind: str, place: int, label: str, chosen: Any, is_open: bool = True) -> None:
        name = f"{kind}_{place}"
        self.fields[name] = forms.ChoiceField(
            label=label,
            choices=[("", "choose"), *self.choices[kind]],
            initial=chosen or "",
            error_messages={"required": "Say which; it is never guessed."},
        )
        if is_open:
            self.open[kind].append(name)

    def _only(self, name: str, orders: Sequence[str]) -> None:
        field: Any = self.fields[name]
        field.choices = [("", "choose"), *((order, IN_WORDS[order]) for order in orders)]

    def _add_for_all(self) -> None:
        """Ask once what is open in several columns; each may still say otherwise."""
        for kind, names in self.open.items():
            if len(names) < 2:
                continue
            self.fields[f"{kind}_all"] = forms.ChoiceField(
                label=f"{FOR_ALL[kind]}, in all {len(names)} columns",
                choices=[("", "each column says it"), *self.choices[kind]],
                required=False,
            )
            for name in names:
                field: Any = self.fields[name]
                field.required = False
                field.choices = [("", "as in all columns"), *list(field.choices)[1:]]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        for kind, names in self.open.items():
            for name in names:
                if name in cleaned and not cleaned[name]:
                    cleaned[name] = cleaned.get(f"{kind}_all", "")
                    if not cleaned[name]:
                        self.add_error(name, "Say which, here or for all; it is never guessed.")
        return cleaned

    def for_all(self) -> list[Any]:
        """The fields that answer for all columns."""
        return [self[f"{kind}_all"] for kind in FOR_ALL if f"{kind}_all" in self.fields]

    def columns(self) -> list[tuple[DayQuestion, list[Any]]]:
        """Each question with its fields."""
        return [
            (
                one,
                [self[name] for name in self.fields if name.rpartition("_")[2] == str(place)],
            )
            for place, one in enumerate(self.questions)
        ]

    def styles(self) -> dict[str, DateStyle]:
        """Return the style of each column of days."""
        said = self.cleaned_data
        return {
            one.use.header: DateStyle(
                # What this file does not ask may have been settled by another.
                order=said.get(f"order_{place}", one.use.dates.order),
                last_year=int(said.get(f"years_{place}") or 0),
                counts_from=said.get(f"count_{place}") or one.settled.style.counts_from,
            )
            for place, one in enumerate(self.questions)
            if one.settled is not None
        }

    def decimals(self) -> dict[str, str]:
        """Return what a comma is in each column of numbers."""
        return {
            one.use.header: self.cleaned_data[f"decimal_{place}"]
            for place, one in enumerate(self.questions)
            if one.settled is None
        }


class WordsForm(PlainForm):
    """What each of a site's own words means, the new ones and those that were answered before."""

    def __init__(self, *args: Any, questions: Sequence[WordQuestion], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.questions = questions
        for place, one in enumerate(questions):
            empty = [(LEAVE_EMPTY, "nothing: leave it empty")] if one.may_be_empty else []
            self.fields[f"word_{place}"] = forms.ChoiceField(
                label=f"{one.meaning}: {one.word}",
                choices=[
                    ("", "choose"),
                    *((code, code.replace("_", " ")) for code in one.codes),
                    *empty,
                    (REFUSE, "none of them: refuse its rows"),
                ],
                initial=LEAVE_EMPTY if one.proposal == EMPTY else one.proposal or "",
                error_messages={"required": "Say what it means."},
            )

    def lines(self) -> list[tuple[WordQuestion, Any]]:
        """Each new word with its field."""
        return [line for line in self._all_lines() if not line[0].was_answered]

    def answered_lines(self) -> list[tuple[WordQuestion, Any]]:
        """Each word that was answered before with its field."""
        return [line for line in self._all_lines() if line[0].was_answered]

    def _all_lines(self) -> list[tuple[WordQuestion, Any]]:
        return [(one, self[f"word_{place}"]) for place, one in enumerate(self.questions)]

    def words(self) -> dict[str, dict[str, str]]:
        """Return the code of each word, by vocabulary."""
        said: dict[str, dict[str, str]] = {}
        for place, one in enumerate(self.questions):
            code = self.cleaned_data[f"word_{place}"]
            meant = EMPTY if code == LEAVE_EMPTY else code
            said.setdefault(one.vocabulary, {})[word_key(one.word)] = meant
        return said


class BackForm(PlainForm):
    """Why an import is taken back."""

    reason = forms.CharField(
        label="Why is it taken back?",
        max_length=300,
        help_text="Everything that it added leaves every count; nothing is deleted from the trail.",
    )


def our_fields() -> list[Any]:
    """Return our fields in groups, for a list to choose from."""
    groups: dict[str, list[tuple[str, str]]] = {
        "Patient": [(name, words) for name, words in NAMES.items()]
    }
    for group, columns in BY_GROUP.items():
        named = groups.setdefault(_group(group), [])
        # Closed, a list shows the choice without its group: repeated fields say of which visit they are.
        whose = f"{_group(group)}: " if group in REPEATED else ""
        named.extend((one.name, f"{whose}{_meaning(one)}") for one in columns)
    return [("", "leave out"), *groups.items()]


def _group(group: str) -> str:
    if group in GROUPS:
        return GROUPS[group]
    if group.startswith("f"):
        return f"At {group[1:]}"
    return group.replace("_", " ").capitalize()


def _meaning(column: Column) -> str:
    needed = " (needed)" if column.required else ""
    unit = f", {column.unit}" if column.unit and column.kind != Kind.CODE else ""
    return f"{column.meaning}{unit}{needed}"


def _hundreds(this_year: int) -> list[tuple[str, str]]:
    return [
        (str(this_year), f"the last hundred years, up to {this_year}"),
        ("1999", "1900 to 1999"),
        ("2099", "2000 to 2099"),
    ]


def _commas() -> list[tuple[str, str]]:
    return [(COMMA, "is the decimal comma"), (THOUSANDS, "parts the thousands")]
