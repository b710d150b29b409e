"""One reading in words: the same for the strip of films, the patient's course, notes and letters."""

from collections.abc import Sequence
from typing import Any, Protocol

from followup.rules import findings, union
from followup.rules.findings import Found

LINE_WORDS = {"visible": "fracture line visible", "not_visible": "fracture line not visible"}


class Read(Protocol):
    """What one reader measured and judged on a film; None where there is no number."""

    ccd_injured_mm: Any
    ccd_other_mm: Any
    ccd_side_ratio_pct: Any
    translation_pct: int | None
    cortices_bridged: int | None
    fracture_line: str
    union: str

    @property
    def origin(self) -> str:
        """Where its numbers come from."""

    def get_union_display(self) -> str:
        """Union in words."""

    def get_hardware_display(self) -> str:
        """Its hardware in words."""


def told(
    reading: Read, found: Sequence[Found] = (), *, least_cortices: int | None = None
) -> list[str]:
    """Return a reading for those who work with films, part by part.

    With `least_cortices` a union that the site's rule would call otherwise is said to be so.
    """
    parts = _lengths(reading, "CC distance")
    origin = [reading.origin] if parts else []
    parts += _translation(reading)
    parts.append(f"union: {reading.get_union_display().lower()}{_by_rule(reading, least_cortices)}")
    parts += _bridging(reading)
    parts.append(f"hardware: {reading.get_hardware_display().lower()}")
    return [*parts, *findings.told(found), *origin]


def told_outside(reading: Read, found: Sequence[Found] = ()) -> list[str]:
    """Return a reading for letters, whose readers do not know our words."""
    parts = _lengths(reading, "coracoclavicular distance")
    parts += _translation(reading)
    parts.append(f"bone: {reading.get_union_display().lower()}")
    parts += _bridging(reading)
    parts.append(f"hardware: {reading.get_hardware_display().lower()}")
    return [*parts, *findings.told(found)]


def _lengths(reading: Read, distance: str) -> list[str]:
    numbers = (
        (f"{distance} ", reading.ccd_injured_mm, " mm"),
        ("other side ", reading.ccd_other_mm, " mm"),
        (f"{distance} ", reading.ccd_side_ratio_pct, "% against the other side"),
    )
    return [f"{name}{value}{unit}" for name, value, unit in numbers if value is not None]


def _translation(reading: Read) -> list[str]:
    value = reading.translation_pct
    return [] if value is None else [f"translation {value}% of the shaft"]


def _bridging(reading: Read) -> list[str]:
    number = reading.cortices_bridged
    counted = [] if number is None else [f"{number} of {union.CORTICES} cortices bridged"]
    line = LINE_WORDS.get(reading.fracture_line, "")
    return [*counted, *([line] if line else [])]


def _by_rule(reading: Read, least: int | None) -> str:
    if least is None:
        return ""
    by_rule = union.proposed(reading.cortices_bridged, reading.fracture_line, least=least)
    otherwise = union.disagreement(reading.union, by_rule)
    return f" ({otherwise})" if otherwise else ""
