"""What a reader looks for on a film beyond lengths and union, and which of it a construct can show.

Grades are for plain films (common practice, no source). Erosion of the acromion is told here as a
finding; whether it was a complication is recorded as one, since it depends on how hard one looks.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

ABSENT, PRESENT = "absent", "present"
NOT_ASSESSABLE, NOT_APPLICABLE = "not_assessable", "not_applicable"
# What was not looked for has no row: that is another thing than absent.
STATES = {
    ABSENT: "looked for and not there",
    PRESENT: "there",
    NOT_ASSESSABLE: "cannot be judged on this film",
    NOT_APPLICABLE: "not applicable: there is no such part",
}
PLATE, SCREWS, HOOK, CORACOID = "plate", "screws", "hook", "coracoid"
PARTS = frozenset({PLATE, SCREWS, HOOK, CORACOID})
# What each family of constructs is made of; 'coracoid' is any anchor, button, tunnel or loop there.
FAMILY_PARTS: Mapping[str, frozenset[str]] = {
    "locking_plate": frozenset({PLATE, SCREWS}),
    "locking_plate_anchors": frozenset({PLATE, SCREWS, CORACOID}),
    "hook_plate": frozenset({PLATE, SCREWS, HOOK}),
    "suspensory": frozenset({CORACOID}),
    "tendon_graft": frozenset({CORACOID}),
}
# How a reading sums up its hardware, the worst first.
WORST_FIRST = ("broken", "migrated", "loose")
SUMMARY_WORDS = {
    "intact": "in place",
    "loose": "loose",
    "broken": "broken",
    "migrated": "migrated",
    "removed": "removed",
    "not_applicable": "not applicable",
    "unknown": "cannot be judged",
}
SCREW_PLACES = {"lateral": "lateral", "shaft": "in the shaft", "both": "lateral and in the shaft"}


@dataclass(frozen=True)
class Kind:
    """One kind of finding.

    `needs` is the part without which it cannot be, '' where any shoulder can show it; `shows` is
    what it makes of the reading's hardware, '' for a finding of bone. `grades` and `places` are the
    words by their codes; a kind with grades has one whenever it is there.
    """

    code: str
    words: str
    needs: str = ""
    shows: str = ""
    grades: Mapping[int, str] = field(default_factory=dict)
    places: Mapping[str, str] = field(default_factory=dict)


_ALL = (
    Kind("screw_loosened", "screw loosened", SCREWS, "loose", places=SCREW_PLACES),
    Kind("screw_backed_out", "screw backed out", SCREWS, "loose", places=SCREW_PLACES),
    Kind("screw_broken", "screw broken", SCREWS, "broken", places=SCREW_PLACES),
    Kind(
        "plate_lifted",
        "plate lifted off the bone",
        PLATE,
        "loose",
        places={"lateral": "laterally", "medial": "medially", "both": "along its whole length"},
    ),
    Kind("plate_broken", "plate broken", PLATE, "broken"),
    Kind("hook_migrated", "hook migrated", HOOK, "migrated"),
    Kind(
        "anchor_moved",
        "anchor or button moved",
        CORACOID,
        "migrated",
        places={
            "anchor": "an anchor",
            "coracoid_button": "the button at the coracoid",
            "clavicle_button": "the button at the clavicle",
        },
    ),
    Kind(
        "acromial_erosion",
        "erosion of the acromion",
        HOOK,
        grades={
            1: "a mark on its undersurface",
            2: "up to half of its thickness",
            3: "more than half of its thickness, or through it",
        },
    ),
    Kind("tunnel_widened", "coracoid tunnel widened", CORACOID),
    Kind("coracoid_fracture", "coracoid fractured", CORACOID),
    Kind("ossification", "coracoclavicular ligaments ossified"),
    Kind(
        "ac_degeneration",
        "degeneration of the AC joint",
        grades={
            1: "narrowed, or small spurs",
            2: "narrowed, with spurs or sclerosis",
            3: "no space left, or cysts",
        },
    ),
)
KINDS: Mapping[str, Kind] = {one.code: one for one in _ALL}
GRADES = (1, 2, 3)
PLACES = tuple(dict.fromkeys(place for one in _ALL for place in one.places))


@dataclass(frozen=True)
class Found:
    """What one reader says of one kind of finding on one film."""

    kind: str
    state: str
    grade: int | None = None
    place: str = ""

    @property
    def is_there(self) -> bool:
        """Whether the film shows it."""
        return self.state == PRESENT

    @property
    def is_of_hardware(self) -> bool:
        """Whether it is about what was implanted, and not about bone."""
        return bool(KINDS[self.kind].shows)

    @property
    def words(self) -> str:
        """The finding as it stands when it is there: 'screw backed out, lateral'."""
        kind = KINDS[self.kind]
        grade = f" grade {self.grade} ({kind.grades[self.grade]})" if self.grade else ""
        place = f", {kind.places[self.place]}" if self.place else ""
        return f"{kind.words}{grade}{place}"


@dataclass(frozen=True)
class Offer:
    """The kinds that a reader is asked for, and those that stand apart because no part fits them."""

    fitting: tuple[Kind, ...]
    others: tuple[Kind, ...] = ()


def parts_of(
    family: str, *, plate_holes: int | None, anchors: int | None, buttons: int | None
) -> frozenset[str]:
    """Return the parts of a construct: those of its family, and those that were counted.

    A family that says nothing may have any part.
    """
    parts = set(FAMILY_PARTS.get(family, PARTS))
    if plate_holes:
        parts |= {PLATE, SCREWS}
    if anchors or buttons:
        parts.add(CORACOID)
    return frozenset(parts)


def offered(parts: Collection[str], *, hardware_in: bool = True) -> Offer:
    """Return the kinds that a construct of these parts can show, apart from the others.

    Of what was taken out the marks in the bone are left to be seen.
    """
    fitting = tuple(
        one
        for one in KINDS.values()
        if (not one.needs or one.needs in parts) and (hardware_in or not one.shows)
    )
    return Offer(fitting, tuple(one for one in KINDS.values() if one not in fitting))


def offered_blind() -> Offer:
    """Return what is offered to who must not learn the construct: every kind, alike."""
    return Offer(tuple(KINDS.values()))


def faults(found: Iterable[Found]) -> dict[str, str]:
    """Return a message by kind for what cannot be recorded: unknown, twice, or its grade or place."""
    told: dict[str, str] = {}
    seen: set[str] = set()
    for one in found:
        message = "It is told twice; keep one." if one.kind in seen else _fault(one)
        seen.add(one.kind)
        if message:
            told[one.kind] = message
    return told


def _fault(one: Found) -> str:
    kind = KINDS.get(one.kind)
    if kind is None:
        return f"'{one.kind}' is no kind of finding; there are {', '.join(KINDS)}."
    if one.state not in STATES:
        return f"'{one.state}' is no state of a finding; there are {', '.join(STATES)}."
    if one.state == NOT_APPLICABLE and not kind.needs:
        return f"'{kind.words}' can be on every film: say absent, present or not_assessable."
    if not one.is_there:
        return "Only what is there has a grade or a place." if one.grade or one.place else ""
    if kind.grades and one.grade not in kind.grades:
        return f"'{kind.words}' needs its grade: {', '.join(map(str, kind.grades))}."
    if one.grade and not kind.grades:
        return f"'{kind.words}' has no grades."
    if one.place and one.place not in kind.places:
        known = ", ".join(kind.places) or "none"
        return f"'{one.place}' is no place of '{kind.words}'; there are: {known}."
    return ""


def summary_of(found: Iterable[Found]) -> str:
    """Return what the findings make of the reading's hardware, the worst; '' where none is there."""
    shown = {KINDS[one.kind].shows for one in found if one.is_there}
    return next((code for code in WORST_FIRST if code in shown), "")


def is_all_in_place(found: Iterable[Found], asked: Iterable[Kind]) -> bool:
    """Say whether every finding of hardware that was asked for was looked for and is absent."""
    absent = {one.kind for one in found if one.state == ABSENT}
    of_hardware = {kind.code for kind in asked if kind.shows}
    return bool(of_hardware) and of_hardware <= absent


def contradiction(hardware: str, found: Sequence[Found]) -> str:
    """Return why a reading's hardware cannot stand beside its findings; '' where it can.

    What is called removed can have left a broken screw or a loose anchor behind.
    """
    worst = summary_of(found)
    if worst and hardware != worst:
        there = [one for one in found if one.is_there and one.is_of_hardware]
        left_behind = {"screw_broken", "anchor_moved"}
        if hardware == "removed" and {one.kind for one in there} <= left_behind:
            return ""
        said = "; ".join(one.words for one in there)
        return (
            f"It is called '{SUMMARY_WORDS[hardware]}', but among the findings is: {said}. "
            f"Choose '{SUMMARY_WORDS[worst]}', or correct the finding."
        )
    if not worst and hardware in WORST_FIRST:
        could = {code for code, kind in KINDS.items() if kind.shows == hardware}
        denied = {
            one.kind for one in found if one.kind in could and one.state in (ABSENT, NOT_APPLICABLE)
        }
        if denied == could:
            return (
                f"It is called '{SUMMARY_WORDS[hardware]}', but every finding that would show it "
                f"is absent. Say what is {SUMMARY_WORDS[hardware]}, or choose another."
            )
    return ""


def told(found: Sequence[Found]) -> list[str]:
    """Return the findings of one reading in words: what is there, what is unsure, and how many not."""
    there = [one.words for one in found if one.is_there]
    unsure = [KINDS[one.kind].words for one in found if one.state == NOT_ASSESSABLE]
    if unsure:
        there.append(f"cannot be judged: {', '.join(unsure)}")
    absent = sum(one.state == ABSENT for one in found)
    if absent:
        what = "nothing else" if there else "no finding"
        there.append(f"{what} of {absent} that {'was' if absent == 1 else 'were'} looked for")
    return there
