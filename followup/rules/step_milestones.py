"""What a step says of motion at its time: a limit, an expectation, or a rule in words alone."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

MOVEMENTS = {
    "flexion": "flexion",
    "abduction": "abduction",
    "external_rotation": "external rotation",
}
MODES = {"active": "active", "passive": "passive"}
# What a motion exam can hold, in whole degrees.
LIMITS = {"flexion": (0, 190), "abduction": (0, 190), "external_rotation": (-60, 120)}
MOST, WORDS_LENGTH, SOURCE_LENGTH = 8, 120, 200
NO_SOURCE = "common practice, no source"
NAMES = ("movement", "mode", "at_least_deg", "at_most_deg", "words", "source")


@dataclass(frozen=True)
class Milestone:
    """One milestone of a step, in whole degrees.

    Without degrees it is a rule in words alone, such as 'strengthening from 12 weeks'; then the
    movement and the mode may be empty.
    """

    movement: str
    mode: str
    at_least_deg: int | None
    at_most_deg: int | None
    words: str
    source: str


def milestones_of(rows: Iterable[Mapping[str, Any]]) -> tuple[Milestone, ...]:
    """Return the milestones that a step keeps as plain values."""
    return tuple(Milestone(**{name: row[name] for name in NAMES}) for row in rows)


def faults(row: Mapping[str, Any]) -> dict[str, str]:
    """Return what is wrong with one milestone, by the name of its part; nothing when it can be."""
    found = _faults_of_words(row)
    if row["movement"] not in ("", *MOVEMENTS):
        found["movement"] = f"'{row['movement']}' is not a movement; take {_either(MOVEMENTS)}."
    if row["mode"] not in ("", *MODES):
        found["mode"] = f"'{row['mode']}' is neither active nor passive."
    given = [name for name in ("at_least_deg", "at_most_deg") if row[name] is not None]
    if given and not row["movement"]:
        found["movement"] = "Say which movement the degrees are of."
    if given and not row["mode"]:
        found["mode"] = "Say whether the degrees are of active or of passive motion."
    if not found.keys() & {"movement", "mode"}:
        found |= {name: said for name in given if (said := _fault_of_degrees(row, name))}
    if len(given) == 2 and not found and row["at_least_deg"] > row["at_most_deg"]:
        found["at_most_deg"] = (
            f"At most {row['at_most_deg']} degrees is less than at least {row['at_least_deg']}."
        )
    return found


def check(rows: Sequence[Mapping[str, Any]]) -> None:
    """Refuse milestones that cannot be. Raises ValueError saying which, and what is wrong."""
    if len(rows) > MOST:
        raise ValueError(f"{len(rows)} milestones are too many; a step takes up to {MOST}")
    measured: set[tuple[str, str]] = set()
    for number, row in enumerate(rows, start=1):
        if set(row) != set(NAMES):
            raise ValueError(f"milestone {number} has {_either(row)}; it needs {', '.join(NAMES)}")
        for name, said in faults(row).items():
            raise ValueError(f"milestone {number}, {name}: {said}")
        of = (row["movement"], row["mode"])
        has_degrees = row["at_least_deg"] is not None or row["at_most_deg"] is not None
        if has_degrees and of in measured:
            raise ValueError(
                f"milestone {number} is of {_motion(row['movement'], row['mode'])}, as another is; "
                "write both limits into one"
            )
        if has_degrees:
            measured.add(of)


def in_words(milestone: Milestone) -> str:
    """Write a milestone with its degrees and its source."""
    return f"{_degrees(milestone)}{milestone.words} ({milestone.source})"


def _degrees(milestone: Milestone) -> str:
    bounds = [
        f"{name} {value}"
        for name, value in (
            ("at least", milestone.at_least_deg),
            ("at most", milestone.at_most_deg),
        )
        if value is not None
    ]
    if not bounds:
        return ""
    motion = _motion(milestone.movement, milestone.mode)
    return f"{motion} {' and '.join(bounds)} degrees: "


def _motion(movement: str, mode: str) -> str:
    return f"{MODES[mode]} {MOVEMENTS[movement]}"


def _faults_of_words(row: Mapping[str, Any]) -> dict[str, str]:
    needed = (
        ("words", WORDS_LENGTH, "Say in words what is allowed or expected."),
        ("source", SOURCE_LENGTH, f"Name the source, or write '{NO_SOURCE}'."),
    )
    found = {}
    for name, length, missing in needed:
        text = row[name]
        if not isinstance(text, str) or not text.strip():
            found[name] = missing
        elif len(text) > length:
            found[name] = f"{len(text)} characters are too many; there is room for {length}."
    return found


def _fault_of_degrees(row: Mapping[str, Any], name: str) -> str:
    value = row[name]
    low, high = LIMITS[row["movement"]]
    if not isinstance(value, int) or isinstance(value, bool):
        return f"'{value}' is not a whole number of degrees."
    if not low <= value <= high:
        return f"{value} degrees cannot be; it goes from {low} to {high}."
    return ""


def _either(names: Iterable[str]) -> str:
    *first, last = names or ("nothing",)
    return f"{', '.join(first)} or {last}" if first else last
