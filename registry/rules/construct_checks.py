"""Construct checks: common practice, no source. A departure is recorded with a reason, never blocked.

What is unknown is 'not evaluable', never a departure.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

BASIS = "common practice, no source"
PLATE_FAMILIES = ("locking_plate", "locking_plate_anchors")
MIN_LATERAL_SCREWS = 6
SMALL_SCREW_MM = 2.3
MIN_HALF_HITCHES = 3
DRILL_FOR_SCREW_MM = {3.5: 2.8, 2.3: 2.0}


class Verdict(StrEnum):
    """What a check says of a construct."""

    MET = "met"
    DEPARTURE = "departure"
    NOT_EVALUABLE = "not_evaluable"
    DOES_NOT_APPLY = "does_not_apply"


@dataclass(frozen=True)
class ConstructFacts:
    """What a check needs to know; None means unknown. Counts are whole numbers, lengths mm."""

    family: str
    uses_small_lateral_screws: bool = False
    lateral_screw_count: int | None = None
    lateral_screw_diameter_mm: float | None = None
    lateral_drill_mm: float | None = None
    lateral_screws_locking: bool | None = None
    shaft_screw_diameter_mm: float | None = None
    shaft_drill_mm: float | None = None
    anchor_count: int | None = None
    free_slots_count: int | None = None
    retainer_count: int | None = None
    knot: str | None = None
    half_hitch_count: int | None = None
    first_two_screws: str | None = None
    guide_wire_clear: str | None = None
    shorter_screw_chosen: str | None = None
    intraoperative_film: bool | None = None

    @property
    def is_lateral_plate(self) -> bool:
        """Whether this is a locking plate on the lateral clavicle."""
        return self.family in PLATE_FAMILIES

    @property
    def small_screws(self) -> bool:
        """Whether the lateral fragment is held by the small screws that these checks are about."""
        diameter = self.lateral_screw_diameter_mm
        if diameter is None:
            return self.uses_small_lateral_screws
        return diameter <= SMALL_SCREW_MM


@dataclass(frozen=True)
class CheckResult:
    """One check's verdict on one construct, with what was found in words."""

    id: str
    version: int
    text: str
    basis: str
    verdict: Verdict
    found: str


Outcome = tuple[Verdict, str]
UNKNOWN: Outcome = (Verdict.NOT_EVALUABLE, "not recorded")
ELSEWHERE: Outcome = (Verdict.DOES_NOT_APPLY, "does not apply to this construct")


@dataclass(frozen=True)
class ConstructCheck:
    """A rule about a construct: id, version, text, basis, and the function that applies it."""

    id: str
    text: str
    judge: Callable[[ConstructFacts], Outcome]
    version: int = 1
    basis: str = BASIS


def _met(good: bool, found: str) -> Outcome:
    return (Verdict.MET if good else Verdict.DEPARTURE, found)


def lateral_screws(facts: ConstructFacts) -> Outcome:
    """At least six screws hold the lateral fragment of a plate with small lateral screws."""
    if not (facts.is_lateral_plate and facts.small_screws):
        return ELSEWHERE
    if facts.lateral_screw_count is None or facts.lateral_screws_locking is None:
        return UNKNOWN
    if not facts.lateral_screws_locking:
        return ELSEWHERE
    count = facts.lateral_screw_count
    return _met(count >= MIN_LATERAL_SCREWS, f"{count} lateral screws")


def free_slots(facts: ConstructFacts) -> Outcome:
    """As many slots are left free above the coracoid as there are anchors."""
    if not facts.is_lateral_plate or facts.anchor_count == 0:
        return ELSEWHERE
    if facts.anchor_count is None or facts.free_slots_count is None:
        return UNKNOWN
    found = f"{facts.free_slots_count} free slots for {facts.anchor_count} anchors"
    return _met(facts.free_slots_count == facts.anchor_count, found)


def retainers(facts: ConstructFacts) -> Outcome:
    """There is one retainer for each anchor."""
    if not facts.is_lateral_plate or facts.anchor_count == 0:
        return ELSEWHERE
    if facts.anchor_count is None or facts.retainer_count is None:
        return UNKNOWN
    found = f"{facts.retainer_count} retainers for {facts.anchor_count} anchors"
    return _met(facts.retainer_count == facts.anchor_count, found)


def shaft_drill(facts: ConstructFacts) -> Outcome:
    """A 2.8 mm drill goes with 3.5 mm shaft screws."""
    return _drill(facts, facts.shaft_screw_diameter_mm, facts.shaft_drill_mm, 3.5)


def lateral_drill(facts: ConstructFacts) -> Outcome:
    """A 2.0 mm drill goes with 2.3 mm lateral screws."""
    return _drill(facts, facts.lateral_screw_diameter_mm, facts.lateral_drill_mm, 2.3)


def _drill(
    facts: ConstructFacts, screw: float | None, drill: float | None, ruled: float
) -> Outcome:
    if not facts.is_lateral_plate:
        return ELSEWHERE
    if screw is None:
        return UNKNOWN
    if abs(screw - ruled) > 0.01:
        return ELSEWHERE
    if drill is None:
        return UNKNOWN
    wanted = DRILL_FOR_SCREW_MM[ruled]
    return _met(abs(drill - wanted) < 0.01, f"{drill:.1f} mm drill for {screw:.1f} mm screws")


def first_screws(facts: ConstructFacts) -> Outcome:
    """The first two screws go one medial and one lateral to the fracture."""
    if not facts.is_lateral_plate:
        return ELSEWHERE
    return _coded(
        facts.first_two_screws,
        good={"one_each_side": "one medial and one lateral"},
        bad={"same_side": "both on the same side"},
    )


def knot(facts: ConstructFacts) -> Outcome:
    """The suture is tied with a surgeon's knot and at least three reversing half hitches."""
    if facts.family not in ("locking_plate_anchors", "suspensory"):
        return ELSEWHERE
    if facts.knot in ("knotless", "not_applicable"):
        return ELSEWHERE
    if facts.knot in (None, "unknown"):
        return UNKNOWN
    if facts.knot != "surgeons_knot":
        return (Verdict.DEPARTURE, "another knot than the surgeon's")
    if facts.half_hitch_count is None:
        return UNKNOWN
    count = facts.half_hitch_count
    return _met(count >= MIN_HALF_HITCHES, f"surgeon's knot and {count} half hitches")


def guide_wire(facts: ConstructFacts) -> Outcome:
    """A wire in the lateral guide hole is shown clear of the joint on the intraoperative film."""
    if not facts.is_lateral_plate:
        return ELSEWHERE
    return _coded(
        facts.guide_wire_clear,
        good={"yes": "shown clear of the joint"},
        bad={"no": "not clear of the joint", "not_shown": "not shown on a film"},
    )


def shorter_screw(facts: ConstructFacts) -> Outcome:
    """Between two screw lengths the shorter is taken."""
    if not (facts.is_lateral_plate or facts.family == "hook_plate"):
        return ELSEWHERE
    return _coded(
        facts.shorter_screw_chosen,
        good={"yes": "the shorter was taken", "not_between": "never between two lengths"},
        bad={"no": "the longer was taken"},
    )


def intraoperative_film(facts: ConstructFacts) -> Outcome:
    """A film of the screws and the reduction is taken before closing."""
    if facts.intraoperative_film is None:
        return UNKNOWN
    done = facts.intraoperative_film
    return _met(done, "film taken" if done else "no film taken")


def _coded(value: str | None, *, good: dict[str, str], bad: dict[str, str]) -> Outcome:
    if value in good:
        return (Verdict.MET, good[value])
    if value in bad:
        return (Verdict.DEPARTURE, bad[value])
    return ELSEWHERE if value == "not_applicable" else UNKNOWN


CHECKS: tuple[ConstructCheck, ...] = (
    ConstructCheck(
        "lateral-screws",
        "At least six screws in the lateral fragment of a locking plate with small screws",
        lateral_screws,
    ),
    ConstructCheck("free-slots", "As many free slots above the coracoid as anchors", free_slots),
    ConstructCheck("retainers", "One retainer for each anchor", retainers),
    ConstructCheck("shaft-drill", "A 2.8 mm drill for 3.5 mm shaft screws", shaft_drill),
    ConstructCheck("lateral-drill", "A 2.0 mm drill for 2.3 mm lateral screws", lateral_drill),
    ConstructCheck(
        "first-screws",
        "The first two screws go one medial and one lateral to the fracture",
        first_screws,
    ),
    ConstructCheck("knot", "A surgeon's knot with at least three reversing half hitches", knot),
    ConstructCheck(
        "guide-wire",
        "A wire in the lateral guide hole is shown clear of the joint on the film",
        guide_wire,
    ),
    ConstructCheck("shorter-screw", "Between two screw lengths the shorter", shorter_screw),
    ConstructCheck(
        "intraoperative-film",
        "A film of screws and reduction before closing",
        intraoperative_film,
    ),
)


def evaluate(facts: ConstructFacts) -> tuple[CheckResult, ...]:
    """Apply every check to a construct, in the order in which they are shown."""
    results = []
    for check in CHECKS:
        verdict, found = check.judge(facts)
        results.append(
            CheckResult(check.id, check.version, check.text, check.basis, verdict, found)
        )
    return tuple(results)
