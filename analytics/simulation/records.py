"""What one simulated case is made of; the names and units are those of the registry."""

from dataclasses import dataclass, field
from datetime import date
from typing import Any


@dataclass(frozen=True)
class SimFilm:
    """One film with the readings taken from it (reader number, injured mm, other mm or None)."""

    taken_on: date
    view: str
    posture: str
    calibration: str
    readings: tuple[tuple[int, float, float | None], ...]
    union: str
    hardware: str


@dataclass(frozen=True)
class SimVisit:
    """One review that was attended."""

    step: str
    on: date
    film: SimFilm | None
    flexion_deg: int | None
    abduction_deg: int | None
    external_rotation_deg: int | None
    scores: dict[str, float]


@dataclass(frozen=True)
class SimCase:
    """One index procedure with everything around it. `same_patient` joins it to the case before."""

    number: int
    site: int
    surgeon: int
    same_patient: bool
    identity: dict[str, Any]
    injury: dict[str, Any]
    classes: dict[str, str]
    operation: dict[str, Any]
    construct_type: str
    construct: dict[str, Any]
    departure_reason: str
    visits: tuple[SimVisit, ...] = ()
    complications: tuple[dict[str, Any], ...] = ()
    removal_on: date | None = None
    removal_planned: bool = False
    revision_on: date | None = None
    status: str = "active"
    status_on: date | None = None
    symptomatic_on: date | None = None
    true_loss_day: int | None = None
    true_complication_day: int | None = None
    attempts: tuple[date, ...] = field(default_factory=tuple)
