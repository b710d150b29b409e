"""What one simulated case is made of; the names and units are those of the registry."""

from dataclasses import dataclass, field
from datetime import date
from typing import Any


@dataclass(frozen=True, slots=True)
class SimReading:
    """One reader's measurements of one film; lengths in mm, or the ratio on a film without a scale.

    `reader` points into `setting.readers()`.
    """

    reader: int
    read_on: date
    blind: bool
    ccd_injured_mm: float | None
    ccd_other_mm: float | None
    ccd_side_ratio_pct: float | None
    union: str
    hardware: str
    translation_pct: int | None = None


@dataclass(frozen=True, slots=True)
class SimFilm:
    """One film with the readings taken from it.

    `true_ccd_mm` is what an errorless reader sees, `true_rise_mm` by how much that has risen since
    the operation of these films.
    """

    taken_on: date
    view: str
    posture: str
    weighted: str
    calibration: str
    shows_both_sides: bool
    readings: tuple[SimReading, ...]
    true_ccd_mm: float
    true_rise_mm: float


@dataclass(frozen=True, slots=True)
class SimMotion:
    """Motion of one side on one day; whole degrees."""

    side: str
    mode: str
    flexion_deg: int
    abduction_deg: int
    external_rotation_deg: int
    internal_rotation: str


@dataclass(frozen=True, slots=True)
class SimVisit:
    """One visit. `step` is the review's code, or empty when nobody had planned the visit.

    `scores` are totals by instrument; `hardware_in_place` says whether the implant was still in.
    """

    step: str
    on: date
    film: SimFilm | None
    motion: tuple[SimMotion, ...]
    scores: dict[str, float]
    hardware_in_place: bool


@dataclass(frozen=True, slots=True)
class SimMissed:
    """One appointment to which the patient did not come."""

    step: str
    on: date


@dataclass(frozen=True, slots=True)
class SimAttempt:
    """One try at reaching a patient about a step."""

    step: str
    on: date
    means: str
    outcome: str


@dataclass(frozen=True, slots=True)
class SimBooking:
    """One appointment that is still to come, on a day of the site's clinic."""

    step: str
    on: date


@dataclass(frozen=True, slots=True)
class SimPart:
    """One implanted part in generic words. A screw out of a tray has no batch to be had."""

    kind: str
    description: str
    catalogue_number: str
    quantity: int
    batch: str
    serial: str
    expires_on: date | None
    batch_not_obtainable: bool


@dataclass(frozen=True, slots=True)
class SimDecision:
    """Where the question stands whether the implant comes out; 'done' points to the removal."""

    raised_because: str
    raised_on: date
    state: str
    decided_on: date | None = None
    wish_on: date | None = None
    deferred_until: date | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class SimConstruct:
    """What was put in, with its parts; `departure_reason` is why it departs from a check, if said."""

    construct_type: str
    values: dict[str, Any]
    parts: tuple[SimPart, ...]
    departs: bool
    departure_reason: str


@dataclass(frozen=True, slots=True)
class SimLater:
    """A later operation on the same shoulder: revision_fixation, implant_removal or washout.

    A revision has a construct. `visits` are those of the schedule that it started.
    """

    kind: str
    operation: dict[str, Any]
    planned: bool = False
    construct: SimConstruct | None = None
    visits: tuple[SimVisit, ...] = ()

    @property
    def on(self) -> date:
        """The day of the operation."""
        day: date = self.operation["performed_on"]
        return day


@dataclass(frozen=True, slots=True)
class SimConsent:
    """One decision of the patient about one purpose."""

    purpose: str
    decision: str
    decided_on: date
    basis: str


@dataclass(frozen=True, slots=True)
class SimCase:
    """One index procedure with everything around it.

    `site` points into `setting.sites()`, `surgeon` into `setting.surgeons(site)`. `person` is one
    number for one person: a case that `returns_to` an earlier one is of the same person, whose
    entry it belongs to unless it was `typed_again` as somebody new, with a slip. `identity`,
    `injury`, `operation`, the construct's values and the complications are fields of the
    registry's rows by name, `classes` codes by system, `identifiers` pairs of issuing system and
    value. The true days are counted from the operation; None means never.
    """

    number: int
    site: int
    surgeon: int
    person: int
    identity: dict[str, Any]
    identifiers: tuple[tuple[str, str], ...]
    consents: tuple[SimConsent, ...]
    injury: dict[str, Any]
    classes: dict[str, str]
    operation: dict[str, Any]
    construct: SimConstruct
    returns_to: int | None = None
    typed_again: bool = False
    visits: tuple[SimVisit, ...] = ()
    missed: tuple[SimMissed, ...] = ()
    attempts: tuple[SimAttempt, ...] = ()
    bookings: tuple[SimBooking, ...] = ()
    complications: tuple[dict[str, Any], ...] = ()
    symptomatic_on: date | None = None
    decision: SimDecision | None = None
    later: tuple[SimLater, ...] = field(default=())
    status: str = "active"
    status_on: date | None = None
    true_loss_day: int | None = None
    true_complication_day: int | None = None
    true_union_day: int | None = None

    @property
    def construct_type(self) -> str:
        """The code of the construct type that the index procedure put in."""
        return self.construct.construct_type

    @property
    def performed_on(self) -> date:
        """The day of the index procedure."""
        day: date = self.operation["performed_on"]
        return day

    def first_later(self, kind: str) -> SimLater | None:
        """Return the first later operation of a kind, None when there was none."""
        return next((one for one in self.later if one.kind == kind), None)
