"""How far a fracture's ends lie beside each other on the films of an invented case."""

from collections.abc import Mapping
from dataclasses import replace

from analytics.simulation.draws import Draws
from analytics.simulation.records import SimCase, SimLater, SimReading, SimVisit

# What is left when the operation ends, in per cent of the shaft's width (mean, SD): invented.
LEFT_PCT: Mapping[str, tuple[float, float]] = {
    "anatomical": (3.0, 4.0),
    "near": (10.0, 6.0),
    "poor": (28.0, 10.0),
    "unknown": (6.0, 6.0),
}
MOST_LEFT_PCT = 60.0
# The width of a lateral clavicle, in mm (mean, SD): invented. What rises by it is off by all of it.
SHAFT_MM, LEAST_MM, MOST_MM = (11.0, 1.2), 8.0, 14.0
READ_SD_PCT, STEP_PCT = 6.0, 5
RECORDED_SHARE = 0.9


def with_translation(rng: Draws, case: SimCase) -> SimCase:
    """Return the case with translation on most readings of a fracture, all else as it was.

    On each film the ends have moved by what the shoulder has risen there since its operation, so
    that translation grows where and when reduction is lost; readers err and write steps of 5 %. The
    draws come from a stream of their own.
    """
    if case.injury["kind"] != "lateral_clavicle":
        return case
    shaft = rng.bounded(*SHAFT_MM, LEAST_MM, MOST_MM)
    first = _left(rng, case.operation["reduction_quality"])
    visits = tuple(_visit(rng, one, first, shaft) for one in case.visits)
    later = tuple(_later(rng, one, first, shaft) for one in case.later)
    return replace(case, visits=visits, later=later)


def _later(rng: Draws, later: SimLater, first: float, shaft: float) -> SimLater:
    """Put translation on the films of a later operation; a revision reduces the fracture anew."""
    if later.kind == "revision_fixation":
        first = _left(rng, later.operation["reduction_quality"])
    return replace(later, visits=tuple(_visit(rng, one, first, shaft) for one in later.visits))


def _left(rng: Draws, quality: str) -> float:
    return rng.bounded(*LEFT_PCT[quality], 0.0, MOST_LEFT_PCT)


def _visit(rng: Draws, visit: SimVisit, first: float, shaft: float) -> SimVisit:
    if visit.film is None:
        return visit
    truth = first + visit.film.true_rise_mm / shaft * 100
    readings = tuple(_reading(rng, one, truth) for one in visit.film.readings)
    return replace(visit, film=replace(visit.film, readings=readings))


def _reading(rng: Draws, reading: SimReading, truth: float) -> SimReading:
    recorded = rng.chance(RECORDED_SHARE)
    read = max(0, STEP_PCT * round(rng.normal(truth, READ_SD_PCT) / STEP_PCT))
    return replace(reading, translation_pct=read if recorded else None)
