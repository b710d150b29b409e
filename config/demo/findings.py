"""Invented findings on the films of some cases: what their readers would have told of them.

They follow from what the simulated reading says of its hardware and its union, so that no figure is
another one by them; which screw or grade it is, is made up by the day and means nothing.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any

from analytics.simulation.records import SimReading
from config.demo.batch import Batch
from config.demo.bulk import new
from config.demo.enrolled import Enrolled
from followup.models import Reading, ReadingFinding
from followup.rules import findings
from followup.rules.findings import ABSENT, PRESENT, Found, Kind
from registry.models import Procedure

# Of so many cases one has readers who look for everything, as a service has that begins with it.
ONE_IN = 6
# A hook begins to mark the acromion from about then; one in so many of its films shows it.
EROSION_DAYS, EROSION_ONE_IN = 60, 3
# Bridged cortices and the line by what was read of union.
BRIDGED = {"none": (0, "visible"), "partial": (2, "visible"), "united": (4, "not_visible")}
# Of so many films called united one has too few cortices bridged for the rule as shipped.
DOUBTED_ONE_IN = 7


@dataclass(frozen=True)
class Looked:
    """What the reader of one film would say beside its lengths; empty where nobody looked."""

    found: tuple[Found, ...] = ()
    columns: "dict[str, Any] | None" = None


def looked_for(of: Enrolled, read: SimReading, on: date) -> Looked:
    """Return what a reader found on the film of a day; nothing for most cases."""
    if of.index.performed_on.toordinal() % ONE_IN:
        return Looked()
    fixed = _carrying(of, on)
    turn = on.toordinal()
    offer = findings.offered(_parts(fixed), hardware_in=read.hardware != "removed").fitting
    shown = _of_hardware(offer, read.hardware, turn)
    asked = offer if shown is not None or read.hardware == "intact" else _of_bone(offer)
    told = [] if shown is None else [shown]
    told += _eroded(offer, (on - fixed.performed_on).days, turn)
    there = {one.kind for one in told}
    absent = (Found(kind.code, ABSENT) for kind in asked if kind.code not in there)
    return Looked((*told, *absent), _bridging(read.union, turn))


def finding_rows(batch: Batch, reading: Reading, found: tuple[Found, ...]) -> None:
    """Add findings to the batch that has their reading."""
    for one in found:
        row = new(
            ReadingFinding,
            reading=reading,
            kind=one.kind,
            state=one.state,
            grade=one.grade,
            place=one.place,
        )
        batch.fact(row, site=reading.site, by=reading.reader, on=reading.read_on)


def _carrying(of: Enrolled, on: date) -> Procedure:
    """Return the operation whose construct was in the shoulder on a day."""
    later = [row for one, row in of.later if one.construct is not None and one.on <= on]
    return later[-1] if later else of.index


def _parts(fixed: Any) -> frozenset[str]:
    built = fixed.construct
    return findings.parts_of(
        built.construct_type.family,
        plate_holes=built.plate_holes,
        anchors=built.anchor_count,
        buttons=built.button_count,
    )


def _of_hardware(offer: tuple[Kind, ...], hardware: str, turn: int) -> Found | None:
    """Return the one finding that makes a reading's hardware what it is, where a part can show it."""
    able = [kind for kind in offer if kind.shows == hardware]
    if not able:
        return None
    kind = able[turn % len(able)]
    places = tuple(kind.places)
    return Found(kind.code, PRESENT, place=places[turn % len(places)] if places else "")


def _of_bone(offer: tuple[Kind, ...]) -> tuple[Kind, ...]:
    return tuple(kind for kind in offer if not kind.shows)


def _eroded(offer: tuple[Kind, ...], day: int, turn: int) -> list[Found]:
    able = any(kind.code == "acromial_erosion" for kind in offer)
    if not able or day < EROSION_DAYS or turn % EROSION_ONE_IN:
        return []
    return [Found("acromial_erosion", PRESENT, 1 if day < 2 * EROSION_DAYS else 2)]


def _bridging(union: str, turn: int) -> dict[str, Any] | None:
    if union not in BRIDGED:
        return None
    cortices, line = BRIDGED[union]
    if union == "united" and turn % DOUBTED_ONE_IN == 0:
        cortices = 2
    return {"cortices_bridged": cortices, "fracture_line": line}
