"""What an extract for research may hold: columns that are offered, and how each is told in the file."""

from collections.abc import Collection
from dataclasses import dataclass, replace

from analytics.rules.dictionary import ENTRIES, TABLES, Entry
from analytics.rules.suppression import HIDE_UP_TO, ROUND_TO

SHIFTED, MONTH, QUARTER = "shifted", "month", "quarter"
DATES = {
    SHIFTED: "whole days, moved back by the same secret number of days for all of one patient",
    MONTH: "the month alone",
    QUARTER: "the quarter alone",
}
YEARS, BANDS = "years", "bands"
AGES = {
    YEARS: "whole years; 90 stands for 90 and more",
    BANDS: "ten years together; 90 and more are one",
}
# These stand for somebody or something, and are told by a pseudonym of the project.
NAMED = ("case", "patient", "site", "surgeon", "film", "reader")
# What joins the tables is always there where its table is.
ALWAYS = {
    "cases": ("case", "patient", "site"),
    "readings": ("case", "film"),
    "findings": ("case", "film"),
}
# What would undo the moving of dates, or is one person's number at a site in every extract alike.
NEVER = {
    "cases.procedure_year": "told by the day of the operation, as the project has dates",
    "cases.procedure_quarter": "told by the day of the operation, as the project has dates",
    "cases.order_at_site": "nearly every operation has a number of its own",
}
PROJECT = "made for this project"
OPERATED = Entry(
    "cases", "performed_day", "whole", "days", (), "day of the index procedure", "procedure"
)
ENDINGS = {SHIFTED: "on", MONTH: "month", QUARTER: "quarter"}
KINDS = {SHIFTED: "date", MONTH: "month", QUARTER: "quarter"}
SAID = {
    SHIFTED: "moved back by a secret number of days of this patient",
    MONTH: "its month",
    QUARTER: "its quarter",
}


@dataclass(frozen=True)
class Plan:
    """What one project takes: its columns as 'table.column', its dates, ages, and its secret."""

    key: bytes
    columns: frozenset[str]
    dates: str
    ages: str


def offered() -> tuple[Entry, ...]:
    """Return the columns from which a project chooses, in the order of the dictionary."""
    return tuple(
        one
        for one in (OPERATED, *ENTRIES)
        if f"{one.table}.{one.name}" not in NEVER
        and one.name not in ALWAYS.get(one.table, ("case",))
    )


def unknown(columns: Collection[str]) -> list[str]:
    """Return which of some columns are not offered."""
    return sorted(set(columns) - {f"{one.table}.{one.name}" for one in offered()})


def is_day(entry: Entry) -> bool:
    """Say whether a column of the data set is a day, counted from the operation."""
    return entry.unit == "days" and (entry.name == "day" or entry.name.endswith("_day"))


def entries(columns: Collection[str], dates: str, ages: str) -> dict[str, list[tuple[str, Entry]]]:
    """Return by table its columns: what the data set calls each, and its entry in the extract."""
    chosen = set(columns)
    made: dict[str, list[tuple[str, Entry]]] = {}
    for table in TABLES:
        mine = [one for one in (OPERATED, *ENTRIES) if one.table == table]
        if any(f"{table}.{one.name}" in chosen for one in mine):
            kept = ALWAYS.get(table, ("case",))
            mine = [one for one in mine if one.name in kept or f"{table}.{one.name}" in chosen]
            # What joins stands first.
            mine.sort(key=lambda one: one.name not in kept)
            made[table] = [(one.name, _told(one, dates, ages)) for one in mine]
    return made


def about_so_many(number: int) -> str:
    """Say how many without telling of a few: none, 1 to 7, or the nearest 5."""
    if number == 0:
        return "none"
    if number <= HIDE_UP_TO:
        return f"1 to {HIDE_UP_TO}"
    return f"about {ROUND_TO * round(number / ROUND_TO)}"


def _told(one: Entry, dates: str, ages: str) -> Entry:
    if one.name in NAMED:
        return replace(one, kind="pseudonym", meaning=_without_number(one), source=PROJECT)
    if is_day(one):
        name = one.name.removesuffix("day") + ENDINGS[dates]
        meaning = f"{one.meaning}; {SAID[dates]}"
        return replace(one, name=name, kind=KINDS[dates], unit="", meaning=meaning)
    if one.name == "age_years" and ages == BANDS:
        return replace(
            one, name="age_band", kind="code", unit="", meaning=f"age at injury; {AGES[BANDS]}"
        )
    return one


def _without_number(one: Entry) -> str:
    what = one.meaning.split(", by a number")[0]
    return f"{what}, by a pseudonym of this project"
